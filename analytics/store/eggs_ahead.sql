-- Trays that are chosen and still in a machine.

SELECT batch, pen, species, CAST(eggs_set - cracked AS BIGINT) AS eggs, set_day
FROM chosen
WHERE NOT closed AND pulled_day IS NULL AND eggs_set > cracked
ORDER BY batch, tray
