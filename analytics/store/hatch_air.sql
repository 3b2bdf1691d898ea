-- The last days of each chosen batch that was moved to its hatcher: humidity read there, and what happened.
WITH events AS (
    SELECT s.batch_key, count(*) FILTER (WHERE e.event = 'opened') AS opened,
        count(*) FILTER (WHERE e.event = 'power_cut') AS power_cuts
    FROM stays s
    JOIN incubator_events e ON label_of(e.incubator) = s.machine_key AND e.withdrawn_in IS NULL
        AND e."at" >= s.from_at AND e."at" < s.to_at
    WHERE s.phase = 'hatcher'
    GROUP BY s.batch_key
)
SELECT s.batch, m.incubator, s.species, s.from_at, s.to_at, s.assumed, count(h.mean_rh) AS hours_rh,
    avg(h.mean_rh) AS mean_rh, avg(h.mean_c) AS mean_c,
    coalesce(any_value(e.opened), 0) AS opened, coalesce(any_value(e.power_cuts), 0) AS power_cuts
FROM stays s
JOIN incubators m ON label_of(m.incubator) = s.machine_key AND m.withdrawn_in IS NULL
LEFT JOIN climate_hours h ON h.machine_key = s.machine_key AND h.hour >= s.from_at AND h.hour < s.to_at
LEFT JOIN events e ON e.batch_key = s.batch_key
WHERE s.phase = 'hatcher' AND s.wanted
GROUP BY s.batch_key, s.batch, m.incubator, s.species, s.from_at, s.to_at, s.assumed
ORDER BY s.from_at, s.batch
