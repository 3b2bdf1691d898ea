-- Each machine day by day and phase: means of the hours read.
SELECT incubator, CAST(hour AS DATE) AS day, phase, count(mean_c) AS hours_c, avg(mean_c) AS mean_c,
    min(least_c) AS least_c, max(most_c) AS most_c, count(mean_rh) AS hours_rh, avg(mean_rh) AS mean_rh
FROM climate_hours
WHERE mean_c IS NOT NULL OR mean_rh IS NOT NULL
GROUP BY incubator, day, phase
ORDER BY incubator, day, phase
