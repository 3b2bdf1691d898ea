-- Fresh eggs opened, of pens with trays in `clear_cells`. `wanted`: opened while the pen laid or its eggs were
-- set that are in `asked_for`, or up to $days before or after.

WITH pens_of AS (
    SELECT t.pen_key, min(t.species) AS species, min(t.pen) AS pen,
        min(t.set_day - CAST(round(coalesce(t.storage_days, 0)) AS INTEGER))
            FILTER (WHERE w.batch_key IS NOT NULL) - $days AS first_day,
        max(t.set_day) FILTER (WHERE w.batch_key IS NOT NULL) + $days AS last_day
    FROM clear_cells c
    JOIN chosen t ON t.batch_key = c.batch_key AND t.tray_key = c.tray_key
    LEFT JOIN asked_for w ON w.batch_key = c.batch_key AND w.tray_key = c.tray_key
    GROUP BY t.pen_key
)
SELECT p.species, p.pen, CAST(f.eggs AS DOUBLE) AS eggs, CAST(f.fertile AS DOUBLE) AS fertile,
    coalesce(f.opened_on BETWEEN p.first_day AND p.last_day, FALSE) AS wanted
FROM fresh_eggs f
JOIN pens_of p ON p.pen_key = label_of(f.pen)
WHERE f.withdrawn_in IS NULL AND f.eggs > 0
ORDER BY p.pen, f.opened_on
