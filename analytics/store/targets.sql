-- The breeder's own aims.

SELECT label_of(species) AS species, measure, target
FROM targets
WHERE withdrawn_in IS NULL
ORDER BY species, measure
