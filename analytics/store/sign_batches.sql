-- One row per chosen closed batch: what the machine sheets hold of its time in the setter (from setting to the
-- transfer) and in the hatcher (from then to the pull). NULL = not recorded.
--
-- Without a transfer on paper the last three days count as the hatcher's (common practice, no source). Events
-- count as recorded where anything at all is written down of that machine: then none is 0. Checks are those
-- of the days in the machine and of $check_days before and after.

WITH batch_of AS (
    SELECT batch_key, any_value(batch) AS batch, any_value(incubator_key) AS setter_key,
        any_value(hatcher_key) AS hatcher_key, max(hatch_on) AS hatch_on
    FROM chosen
    WHERE closed
    GROUP BY batch_key
),
times AS (
    SELECT o.*, b.set_on, coalesce(b.pulled_on, CAST(o.hatch_on AS TIMESTAMP) + INTERVAL 12 HOUR) AS pulled_on,
        coalesce(b.transfer_on, coalesce(b.pulled_on, CAST(o.hatch_on AS TIMESTAMP)) - INTERVAL 3 DAY)
            AS transfer_on
    FROM batch_of o
    JOIN batches b ON label_of(b.batch) = o.batch_key AND b.withdrawn_in IS NULL
),
readings AS (
    SELECT label_of(incubator) AS machine_key, "at" AS read_at, temperature_c, humidity_pct
    FROM climate
    WHERE withdrawn_in IS NULL
),
setter_air AS (
    SELECT t.batch_key, avg(r.temperature_c) AS setter_c, avg(r.humidity_pct) AS setter_rh
    FROM times t
    JOIN readings r ON r.machine_key = t.setter_key AND r.read_at >= t.set_on AND r.read_at < t.transfer_on
    GROUP BY t.batch_key
),
hatcher_air AS (
    SELECT t.batch_key, avg(r.temperature_c) AS hatcher_c, avg(r.humidity_pct) AS hatcher_rh
    FROM times t
    JOIN readings r ON r.machine_key = t.hatcher_key AND r.read_at >= t.transfer_on AND r.read_at <= t.pulled_on
    GROUP BY t.batch_key
),
checked AS (
    SELECT t.batch_key, avg(k.reference_c) AS reference_c
    FROM times t
    JOIN checks k ON label_of(k.incubator) = t.setter_key AND k.withdrawn_in IS NULL
        AND k."at" BETWEEN t.set_on - to_days(CAST($check_days AS INTEGER))
            AND t.pulled_on + to_days(CAST($check_days AS INTEGER))
    WHERE k.reference_c IS NOT NULL
    GROUP BY t.batch_key
),
happened AS (
    SELECT label_of(incubator) AS machine_key, "at" AS happened_at, event
    FROM incubator_events
    WHERE withdrawn_in IS NULL
),
written AS (SELECT DISTINCT machine_key FROM happened),
in_setter AS (
    SELECT t.batch_key,
        count(*) FILTER (WHERE e.event = 'turner_stopped' AND e.happened_at >= t.set_on
            AND e.happened_at < t.transfer_on) AS turner_stops,
        max(e.happened_at) FILTER (WHERE e.event = 'cleaned' AND e.happened_at <= t.set_on) AS cleaned_at
    FROM times t
    JOIN happened e ON e.machine_key = t.setter_key
    GROUP BY t.batch_key
),
in_hatcher AS (
    SELECT t.batch_key,
        count(*) FILTER (WHERE e.event = 'opened' AND e.happened_at >= t.transfer_on
            AND e.happened_at <= t.pulled_on) AS openings
    FROM times t
    JOIN happened e ON e.machine_key = t.hatcher_key
    GROUP BY t.batch_key
),
power AS (
    SELECT t.batch_key, count(e.event) AS power_cuts
    FROM times t
    LEFT JOIN happened e ON e.event = 'power_cut' AND (
        (e.machine_key = t.setter_key AND e.happened_at >= t.set_on AND e.happened_at < t.transfer_on)
        OR (e.machine_key = t.hatcher_key AND e.happened_at >= t.transfer_on AND e.happened_at <= t.pulled_on))
    WHERE EXISTS (FROM written w WHERE w.machine_key = t.setter_key)
    GROUP BY t.batch_key
)
SELECT t.batch, t.set_on, t.transfer_on, t.pulled_on,
    s.setter_c, s.setter_rh, h.hatcher_c, h.hatcher_rh, k.reference_c,
    CAST(i.openings AS DOUBLE) AS openings, CAST(u.turner_stops AS DOUBLE) AS turner_stops,
    CAST(p.power_cuts AS DOUBLE) AS power_cuts,
    date_diff('hour', u.cleaned_at, t.set_on) / 24.0 AS days_since_cleaning
FROM times t
LEFT JOIN setter_air s ON s.batch_key = t.batch_key
LEFT JOIN hatcher_air h ON h.batch_key = t.batch_key
LEFT JOIN checked k ON k.batch_key = t.batch_key
LEFT JOIN in_setter u ON u.batch_key = t.batch_key
LEFT JOIN in_hatcher i ON i.batch_key = t.batch_key
LEFT JOIN power p ON p.batch_key = t.batch_key
ORDER BY t.batch_key
