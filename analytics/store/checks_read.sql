-- Displays read beside a reference, with what the logger read in the same hour.
SELECT m.incubator, k."at" AS "at", k.displayed_c, k.reference_c, k.displayed_rh, k.reference_rh,
    h.mean_c AS logged_c
FROM checks k
JOIN incubators m ON label_of(m.incubator) = label_of(k.incubator) AND m.withdrawn_in IS NULL
LEFT JOIN climate_hours h ON h.incubator = m.incubator AND h.hour = date_trunc('hour', k."at")
WHERE k.withdrawn_in IS NULL AND CAST(k."at" AS DATE) BETWEEN $first::DATE AND $last::DATE
ORDER BY m.incubator, k."at"
