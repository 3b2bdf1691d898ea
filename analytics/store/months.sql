-- The months in which a chosen batch hatched.

SELECT CAST(year(hatch_on) AS INTEGER) AS year, CAST(month(hatch_on) AS INTEGER) AS month
FROM chosen
WHERE closed AND hatch_on IS NOT NULL
GROUP BY year(hatch_on), month(hatch_on)
ORDER BY year(hatch_on), month(hatch_on)
