-- Who had eggs in which machine and hatcher, and how many at the pen's last set; batches still in the machine count too.
-- $days: a pen whose last set is so many days before the newest one is taken to have no eggs any more.

WITH newest AS (SELECT max(set_day) AS day FROM chosen),
by_day AS (
    SELECT pen_key, set_day, sum(eggs_set) AS eggs
    FROM chosen
    GROUP BY pen_key, set_day
),
last_set AS (
    SELECT b.pen_key, arg_max(b.eggs, b.set_day) AS eggs, max(b.set_day) AS day
    FROM by_day b
    GROUP BY b.pen_key
),
gone AS (SELECT label_of(pen) AS pen_key FROM pens, newest WHERE withdrawn_in IS NULL AND "to" <= newest.day)
SELECT min(c.species) AS species, min(c.pen) AS pen, min(c.incubator) AS incubator, min(c.hatcher) AS hatcher,
    CAST(sum(c.eggs_set) AS BIGINT) AS eggs,
    CAST(coalesce(sum(c.eggs_set) FILTER (WHERE c.set_day > n.day - $days::INTEGER), 0) AS BIGINT) AS lately,
    CAST(CASE
        WHEN min(l.day) > min(n.day) - $days::INTEGER AND c.pen_key NOT IN (SELECT pen_key FROM gone)
        THEN min(l.eggs) ELSE 0
    END AS BIGINT) AS at_last_set
FROM chosen c
JOIN last_set l ON l.pen_key = c.pen_key
CROSS JOIN newest n
GROUP BY c.pen_key, c.incubator_key, c.hatcher_key
ORDER BY c.pen_key, c.incubator_key, c.hatcher_key
