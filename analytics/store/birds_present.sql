-- Birds in each live pen on a day: counted from the stays of birds where any is written down, else as the
-- sheet pens says. A pen that had ended, or not begun, on that day is not there.

WITH counted AS (
    SELECT label_of(s.pen) AS pen_key,
        count(*) FILTER (WHERE b.sex = 'm') AS males, count(*) FILTER (WHERE b.sex = 'f') AS females
    FROM pen_birds s
    JOIN birds b ON label_of(b.bird) = label_of(s.bird) AND b.withdrawn_in IS NULL
    WHERE s.withdrawn_in IS NULL
        AND $day::DATE BETWEEN s."from" AND coalesce(s."to", DATE '9999-12-31')
    GROUP BY 1
)
SELECT p.pen, p.species, coalesce(c.males, p.males) AS males, coalesce(c.females, p.females) AS females
FROM pens p
LEFT JOIN counted c ON c.pen_key = label_of(p.pen)
WHERE p.withdrawn_in IS NULL
    AND $day::DATE BETWEEN coalesce(p."from", DATE '0001-01-01') AND coalesce(p."to", DATE '9999-12-31')
    AND ($everything::BOOLEAN OR label_of(p.pen) IN (SELECT pen_key FROM chosen))
ORDER BY p.pen
