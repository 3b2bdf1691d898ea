-- Trays of chosen batches that were weighed twice, net of the tray, per egg; and why the others cannot be used.
-- The second weighing is on weighed_on, else at transfer.
WITH weighed AS (
    SELECT t.batch, t.tray, c.batch_key, c.incubator_key, c.species, b.set_on,
        coalesce(t.weighed_on, b.transfer_on) AS weighed_at,
        t.tare_g, t.weight_set_g, t.weight_transfer_g, coalesce(t.removed_at_candling, 0) AS removed,
        coalesce(t.weighed_set, t.eggs_set) AS eggs_first,
        coalesce(t.weighed_transfer, t.weighed_set, t.eggs_set) AS eggs_later,
        t.weighed_transfer IS NULL AS later_unknown
    FROM chosen c
    JOIN trays t ON label_of(t.batch) = c.batch_key AND label_of(t.tray) = c.tray_key AND t.withdrawn_in IS NULL
    JOIN batches b ON label_of(b.batch) = c.batch_key AND b.withdrawn_in IS NULL
    WHERE t.weight_set_g IS NOT NULL OR t.weight_transfer_g IS NOT NULL
)
SELECT w.batch, w.tray, m.incubator, w.species, w.tare_g, w.weight_set_g, w.weight_transfer_g, w.eggs_first,
    w.eggs_later, date_diff('minute', w.set_on, w.weighed_at) / 1440.0 AS days,
    CASE WHEN w.weight_set_g IS NULL OR w.weight_transfer_g IS NULL THEN 'weighed once'
        WHEN w.tare_g IS NULL THEN 'no tare'
        WHEN w.weighed_at IS NULL OR w.weighed_at <= w.set_on THEN 'day of weighing not written down'
        WHEN w.eggs_later <> w.eggs_first OR (w.later_unknown AND w.removed > 0) THEN 'eggs taken out between'
        WHEN w.tare_g >= w.weight_set_g OR w.tare_g >= w.weight_transfer_g OR w.eggs_first < 1
            THEN 'tare not less than the tray with its eggs'
        ELSE '' END AS why
FROM weighed w
JOIN incubators m ON label_of(m.incubator) = w.incubator_key AND m.withdrawn_in IS NULL
ORDER BY w.set_on, w.batch, w.tray
