-- Which eggs were in which machine from when to when, and whether for setting or for the hatch: the setter until
-- transfer, the hatcher after it. Where the transfer is not written down, the usual day of the species stands for
-- it (assumed); where none is known either, the eggs count as in the setter to the end. A day without its hour
-- counts from its morning as a beginning and to its end as an end. Eggs still in a machine count, where $with_open,
-- as far as any logger has written.
-- $species, $transfer_days: two lists of one length.

CREATE OR REPLACE TEMP TABLE stays AS
WITH transfer_of AS (
    SELECT unnest($species::VARCHAR[]) AS species, unnest($transfer_days::INTEGER[]) AS transfer_day
),
of_batch AS (
    SELECT batch_key, any_value(incubator_key) AS setter_key, any_value(hatcher_key) AS hatcher_key,
        CASE WHEN count(DISTINCT species) = 1 THEN min(species) ELSE '' END AS species,
        max(due_to) AS due_to, bool_and(closed) AS closed,
        batch_key IN (SELECT batch_key FROM chosen WHERE closed OR $with_open) AS wanted
    FROM trays_of
    GROUP BY batch_key
),
dated AS (
    SELECT o.*, b.batch, b.set_on, b.transfer_on IS NULL AS assumed,
        coalesce(b.transfer_on, b.set_on + to_days(t.transfer_day)) AS moved_on,
        coalesce(
            CASE WHEN b.pulled_on = date_trunc('day', b.pulled_on) THEN b.pulled_on + INTERVAL 1 DAY
                ELSE b.pulled_on END,
            least(CAST(o.due_to AS TIMESTAMP) + INTERVAL 1 DAY,
                CASE WHEN NOT o.closed THEN coalesce(l.last_at, b.set_on) END)) AS ended_on
    FROM of_batch o
    JOIN batches b ON label_of(b.batch) = o.batch_key AND b.withdrawn_in IS NULL
    LEFT JOIN transfer_of t ON t.species = o.species
    CROSS JOIN (SELECT max("at") AS last_at FROM climate WHERE withdrawn_in IS NULL) l
)
SELECT batch_key, batch, setter_key AS machine_key, 'setter' AS phase, species, wanted, assumed,
    set_on AS from_at, least(coalesce(moved_on, ended_on), ended_on) AS to_at
FROM dated
WHERE ended_on > set_on
UNION ALL
SELECT batch_key, batch, hatcher_key, 'hatcher', species, wanted, assumed, moved_on, ended_on
FROM dated
WHERE moved_on < ended_on
