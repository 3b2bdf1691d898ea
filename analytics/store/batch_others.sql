-- How the farm's other closed batches of the same species hatched: all of them, those of the same setter, and
-- those that held each of the chosen batch's pens (that pen's trays only). Sums, with the lowest and the
-- highest batch; only trays whose hatch is written down.

WITH own AS (
    SELECT DISTINCT species, incubator_key, pen_key, pen FROM chosen
),
others AS (
    SELECT t.species, t.batch_no, t.incubator_key, t.incubator, t.pen_key, t.eggs_set, t.hatched + t.culled AS chicks
    FROM trays_of t
    WHERE t.closed AND t.in_hatch AND t.batch_no NOT IN (SELECT batch_no FROM chosen)
        AND t.species IN (SELECT species FROM own)
),
kinds AS (
    SELECT species, 'farm' AS kind, '' AS label, batch_no, eggs_set, chicks FROM others
    UNION ALL
    SELECT o.species, 'incubator', o.incubator, o.batch_no, o.eggs_set, o.chicks
    FROM others o
    WHERE o.incubator_key IN (SELECT incubator_key FROM own)
    UNION ALL
    SELECT o.species, 'pen', p.pen, o.batch_no, o.eggs_set, o.chicks
    FROM others o
    JOIN (SELECT DISTINCT species, pen_key, pen FROM own) p ON p.pen_key = o.pen_key AND p.species = o.species
),
by_batch AS (
    SELECT species, kind, min(label) AS label, batch_no, sum(eggs_set) AS eggs, sum(chicks) AS chicks
    FROM kinds
    GROUP BY species, kind, label_of(label), batch_no
)
SELECT species, kind, min(label) AS label, count(*) AS batches,
    CAST(sum(eggs) AS BIGINT) AS eggs, CAST(sum(chicks) AS BIGINT) AS chicks,
    min(chicks / eggs) AS lowest, max(chicks / eggs) AS highest
FROM by_batch
GROUP BY species, kind, label_of(label)
ORDER BY species, kind, 3
