-- Every live batch with its days, those that are out first, the latest on top.

WITH inside AS (
    SELECT batch_no, any_value(closed) AS closed, max(hatch_on) AS hatch_on, sum(eggs_set) AS eggs_set,
        list(DISTINCT species ORDER BY species) AS species
    FROM trays_of
    GROUP BY batch_no
),
named AS (
    SELECT b.batch, CAST(b.set_on AS DATE) AS set_day, coalesce(i.closed, b.pulled_on IS NOT NULL) AS closed,
        coalesce(i.hatch_on, CAST(b.pulled_on AS DATE)) AS hatch_on, coalesce(i.species, []) AS species,
        CAST(coalesce(i.eggs_set, 0) AS BIGINT) AS eggs_set
    FROM batches b
    LEFT JOIN inside i ON i.batch_no = b.rowid
    WHERE b.withdrawn_in IS NULL
)
FROM named
ORDER BY closed DESC, CASE WHEN closed THEN hatch_on ELSE set_day END DESC NULLS LAST, batch
