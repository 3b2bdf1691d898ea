-- One row per closed batch that holds a chosen tray and time of counting: all its chicks out by then, beside what the hours of
-- the hatch are read with. Where a batch has counts of the whole, these are taken; else those of its trays,
-- added up at the times at which every tray that was counted at all was counted.
--
-- A count without its hour (midnight) tells nothing of hours and is left out.
WITH batch_of AS (
    SELECT batch_key, any_value(batch) AS batch, any_value(incubator_key) AS setter_key,
        any_value(hatcher_key) AS hatcher_key, min(species) AS species, count(DISTINCT species) AS kinds,
        list(DISTINCT pen ORDER BY pen) AS pens, sum(eggs_set) AS eggs, sum(hatched + culled) AS chicks, bool_and(in_hatch) AS hatch_known,
        -- a blank is not 0 days: the mean is of the trays that tell it, by their eggs
        sum(eggs_set * storage_days) / nullif(sum(CASE WHEN storage_days IS NULL THEN 0 ELSE eggs_set END), 0)
            AS storage_days,
        sum(eggs_set * hen_weeks) / nullif(sum(CASE WHEN hen_weeks IS NULL THEN 0 ELSE eggs_set END), 0)
            AS hen_weeks
    FROM trays_of
    WHERE closed AND batch_key IN (SELECT batch_key FROM chosen)
    GROUP BY batch_key
),
tray_chicks AS (
    SELECT batch_key, tray_key, sum(hatched + culled) AS chicks, bool_and(in_hatch) AS hatch_known
    FROM trays_of
    WHERE closed AND batch_key IN (SELECT batch_key FROM chosen)
    GROUP BY batch_key, tray_key
),
egg_weights AS (
    SELECT label_of(batch) AS batch_key,
        avg((weight_set_g - tare_g) / coalesce(weighed_set, eggs_set)) AS egg_g
    FROM trays
    WHERE withdrawn_in IS NULL AND weight_set_g > tare_g AND coalesce(weighed_set, eggs_set) > 0
    GROUP BY 1
),
counts AS (
    SELECT label_of(batch) AS batch_key, coalesce(label_of(tray), '') AS tray_key, counted_at, out_so_far
    FROM hatch_counts
    WHERE withdrawn_in IS NULL AND out_so_far IS NOT NULL
        AND counted_at <> date_trunc('day', counted_at)
),
counted AS (
    SELECT batch_key, bool_or(tray_key = '') AS by_batch, count(DISTINCT tray_key) AS trays
    FROM counts
    GROUP BY batch_key
),
out_by AS (
    SELECT n.batch_key, n.counted_at, sum(n.out_so_far) AS out_so_far
    FROM counts n
    JOIN counted c ON c.batch_key = n.batch_key
    WHERE NOT c.by_batch OR n.tray_key = ''
    GROUP BY n.batch_key, n.counted_at, c.by_batch, c.trays
    HAVING c.by_batch OR count(*) = c.trays
),
chicks_of AS (
    SELECT c.batch_key,
        CASE WHEN c.by_batch THEN any_value(b.chicks) ELSE sum(t.chicks) END AS chicks,
        CASE WHEN c.by_batch THEN any_value(b.hatch_known) ELSE bool_and(t.hatch_known) END AS hatch_known
    FROM counted c
    JOIN batch_of b ON b.batch_key = c.batch_key
    LEFT JOIN tray_chicks t ON t.batch_key = c.batch_key
        AND EXISTS (FROM counts n WHERE n.batch_key = c.batch_key AND n.tray_key = t.tray_key)
    GROUP BY c.batch_key, c.by_batch
)
SELECT b.batch, m.incubator AS setter, h.incubator AS hatcher, b.species, b.kinds, b.pens, b.eggs, b.storage_days, b.hen_weeks, w.egg_g,
    s.set_on, s.transfer_on, s.pulled_on, coalesce(k.chicks, b.chicks) AS chicks,
    coalesce(k.hatch_known, b.hatch_known) AS hatch_known, o.counted_at, o.out_so_far
FROM batch_of b
JOIN incubators m ON label_of(m.incubator) = b.setter_key AND m.withdrawn_in IS NULL
JOIN incubators h ON label_of(h.incubator) = b.hatcher_key AND h.withdrawn_in IS NULL
JOIN batches s ON label_of(s.batch) = b.batch_key AND s.withdrawn_in IS NULL
LEFT JOIN out_by o ON o.batch_key = b.batch_key
LEFT JOIN chicks_of k ON k.batch_key = b.batch_key
LEFT JOIN egg_weights w ON w.batch_key = b.batch_key
ORDER BY s.set_on, b.batch, o.counted_at
