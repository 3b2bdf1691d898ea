-- The pens of the chosen batch: males and females, and in how many setters their eggs have hatched.

SELECT p.pen, label_of(p.species) AS species, p.males, p.females, p.hens_hatched_on,
    (SELECT count(DISTINCT t.incubator_key) FROM trays_of t
        WHERE t.pen_key = label_of(p.pen) AND (t.closed OR t.batch_key = label_of($batch))) AS setters,
    (SELECT count(DISTINCT label_of(i.incubator)) FROM incubators i WHERE i.withdrawn_in IS NULL
        AND label_of(i.incubator) NOT IN (SELECT t.incubator_key FROM trays_of t WHERE t.pen_key = label_of(p.pen)))
        AS untried
FROM pens p
WHERE p.withdrawn_in IS NULL AND label_of(p.pen) IN (SELECT pen_key FROM chosen)
ORDER BY 1
