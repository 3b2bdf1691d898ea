-- The chosen trays of closed batches as they are written down, those of a batch together, the latest hatch first.

SELECT c.batch, c.tray, c.pen, c.incubator, c.hatcher, c.set_day, c.hatch_on, c.storage_days, c.eggs_set,
    t.hatched, t.culled, t.infertile, t.clear, t.early_dead, t.mid_dead, t.late_dead, t.internal_pip,
    t.external_pip, t.rotten, t.cracked, t.not_opened, c.unaccounted,
    c.in_hatch, c.in_staged, c.from_opened_eggs
FROM chosen c
JOIN trays t ON label_of(t.batch) = c.batch_key AND label_of(t.tray) = c.tray_key AND t.withdrawn_in IS NULL
WHERE c.closed
    AND ($pen = '' OR c.pen_key = label_of($pen))
    AND ($batch = '' OR c.batch_key = label_of($batch))
    AND ($machine = '' OR c.incubator_key = label_of($machine) OR c.hatcher_key = label_of($machine))
    AND ($month = '' OR strftime(c.hatch_on, '%Y-%m') = $month)
ORDER BY c.hatch_on DESC, c.batch_key, c.tray_key
