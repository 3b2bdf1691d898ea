-- Batches in the machine on $day: set by then and not pulled by then, and no tray yet, or a tray without its
-- hatch. A batch whose hatch is known, but not the day it was pulled, was in until the first day it was due.
-- A batch counts as chosen when one of its trays is; one without trays only when nothing is filtered
-- ($everything).

WITH inside AS (
    SELECT batch_no, sum(eggs_set) AS eggs_set, min(due_from) AS due_from, max(due_to) AS due_to,
        list(DISTINCT species ORDER BY species) AS species, bool_or(closed) AS closed
    FROM trays_of
    GROUP BY batch_no
)
SELECT b.batch, b.incubator, coalesce(i.species, []) AS species,
    CAST(coalesce(i.eggs_set, 0) AS BIGINT) AS eggs_set,
    CAST(b.set_on AS DATE) AS set_day, i.due_from, i.due_to
FROM batches b
LEFT JOIN inside i ON i.batch_no = b.rowid
WHERE b.withdrawn_in IS NULL AND CAST(b.set_on AS DATE) <= $day::DATE
    AND (b.pulled_on IS NULL AND NOT coalesce(i.closed, FALSE)
        OR coalesce(CAST(b.pulled_on AS DATE), i.due_from) > $day::DATE)
    AND (b.rowid IN (SELECT batch_no FROM chosen) OR (i.batch_no IS NULL AND $everything::BOOLEAN))
ORDER BY b.set_on, b.batch
