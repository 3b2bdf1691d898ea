-- Trays that are chosen and in a machine on $day (as in open_batches.sql).

SELECT t.batch, t.pen, t.species, CAST(t.eggs_set - t.cracked AS BIGINT) AS eggs, b.set_on
FROM chosen t JOIN batches b ON b.rowid = t.batch_no
WHERE eggs_set > cracked AND set_day <= $day::DATE
    AND (NOT closed OR coalesce(pulled_day, due_from) > $day::DATE)
ORDER BY t.batch, t.tray
