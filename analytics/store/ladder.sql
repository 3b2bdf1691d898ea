-- The trays of `ladder_cells` (the answer of cells.sql for one family, kept) with what a ledger needs besides.
-- `wanted`: whether the tray is in the temporary table `asked_for`. A parent has one spelling.

SELECT c.*, t.tray, t.set_day, t.rotten AS rotten_eggs,
    coalesce(min(t.sire) OVER (PARTITION BY label_of(t.sire)), '') AS sire,
    coalesce(min(t.dam) OVER (PARTITION BY label_of(t.dam)), '') AS dam,
    w.batch_key IS NOT NULL AS wanted
FROM ladder_cells c
JOIN chosen t ON t.batch_key = c.batch_key AND t.tray_key = c.tray_key
LEFT JOIN asked_for w ON w.batch_key = c.batch_key AND w.tray_key = c.tray_key
ORDER BY c.batch_key, c.tray_key
