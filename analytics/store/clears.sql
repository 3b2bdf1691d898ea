-- The trays of `clear_cells` (the answer of cells.sql for the family fertile, kept) with what the sharing out
-- of clear eggs needs besides. `wanted`: whether the tray is in the temporary table `asked_for`.
--
-- Eggs read as infertile were read at candling where as many were taken out there, else when the rest was
-- opened, else at the hatch. `storage_c` is as written.

SELECT c.species, c.pen, c.batch, c.followed,
    least(c.clear + c.infertile, c.followed) AS silent, c.early,
    CAST(t.clear AS DOUBLE) AS clear, CAST(t.infertile AS DOUBLE) AS infertile,
    1 - CAST(t.unknown AS DOUBLE) / t.followed AS known,
    c.storage_days, r.storage_c,
    CAST(greatest(0, date_diff('day', t.set_day,
        CASE WHEN r.candled_on IS NOT NULL AND coalesce(r.removed_at_candling, 0) >= greatest(t.infertile, 1)
            THEN r.candled_on ELSE coalesce(r.opened_on, t.hatch_on) END)) AS DOUBLE) AS days_incubated,
    w.batch_key IS NOT NULL AS wanted
FROM clear_cells c
JOIN chosen t ON t.batch_key = c.batch_key AND t.tray_key = c.tray_key
JOIN trays r ON label_of(r.batch) = c.batch_key AND label_of(r.tray) = c.tray_key AND r.withdrawn_in IS NULL
LEFT JOIN asked_for w ON w.batch_key = c.batch_key AND w.tray_key = c.tray_key
WHERE c.told AND c.followed > 0
ORDER BY c.batch_key, c.tray_key
