-- The weighings of the chosen trays of closed batches that have a tare. `eggs_later` is NULL where eggs were
-- taken out at candling and nobody wrote down how many stood on the scales.

SELECT c.batch, c.tray, t.tare_g, t.weight_set_g, coalesce(t.weighed_set, t.eggs_set) AS eggs_at_set,
    t.weight_transfer_g AS weight_later_g,
    coalesce(t.weighed_transfer, CASE WHEN coalesce(t.removed_at_candling, 0) = 0 THEN t.eggs_set END)
        AS eggs_later
FROM chosen c
JOIN trays t ON label_of(t.batch) = c.batch_key AND label_of(t.tray) = c.tray_key AND t.withdrawn_in IS NULL
WHERE c.closed AND t.tare_g IS NOT NULL AND t.weight_set_g IS NOT NULL
ORDER BY c.batch_key, c.tray_key
