-- Sums by month of hatch, pen and the machine of the step, for the watch of pens and machines.
--
-- From `ladder_cells` (the answer of cells.sql for one family, kept). A row with a pen is a cell: eggs that
-- entered and passed with every clear egg taken as infertile (low) and with none (high), the sum over its trays
-- of their eggs squared, and over its batches. A row without a pen is a machine: only batch_squares is told,
-- over its batches with all pens' eggs. Eggs of a tray are drawn by what entered at the low end.

WITH trays AS (
    SELECT species, batch_key, pen, setter, hatcher, eggs_set, followed, clear, date_trunc('month', hatch_on) AS month,
        least(hatched + culled, followed) AS chicks,
        least(hatched + culled + shell, followed) AS to_shell,
        least(hatched + culled + shell + late, followed) AS to_late,
        least(hatched + culled + shell + late + mid, followed) AS to_mid,
        least(hatched + culled + shell + late + mid + early, followed) AS fertile,
        least(hatched + culled + shell + late + mid + early + clear, followed) AS perhaps_fertile
    FROM ladder_cells
    WHERE told OR $family = 'hatch'
),
stepped AS (
    SELECT 'fertility' AS step, setter AS machine, followed AS entered, fertile AS passed, followed AS entered_high,
        perhaps_fertile AS passed_high, * FROM trays WHERE $family <> 'hatch'
    UNION ALL
    SELECT 'hatch_of_fertile', hatcher, fertile, chicks, perhaps_fertile, chicks, * FROM trays
    WHERE $family = 'fertile'
    UNION ALL
    SELECT 'early_loss', setter, fertile, to_mid, perhaps_fertile, to_mid, * FROM trays WHERE $family = 'staged'
    UNION ALL
    SELECT 'mid_loss', setter, to_mid, to_late, to_mid, to_late, * FROM trays WHERE $family = 'staged'
    UNION ALL
    SELECT 'late_loss', hatcher, to_late, to_shell, to_late, to_shell, * FROM trays WHERE $family = 'staged'
    UNION ALL
    SELECT 'shell_loss', hatcher, to_shell, chicks, to_shell, chicks, * FROM trays WHERE $family = 'staged'
    UNION ALL
    SELECT 'hatch_of_set', hatcher, eggs_set, chicks, eggs_set, chicks, * FROM trays WHERE $family = 'hatch'
),
batches AS (
    SELECT species, step, month, machine, pen, batch_key, sum(entered) AS entered, sum(passed) AS passed,
        sum(entered_high) AS entered_high, sum(passed_high) AS passed_high, sum(entered * entered) AS tray_squares
    FROM stepped
    GROUP BY species, step, month, machine, pen, batch_key
),
machine_batches AS (
    SELECT species, step, month, machine, sum(entered) AS entered
    FROM batches
    GROUP BY species, step, month, machine, batch_key
)
SELECT species, step, CAST(year(month) AS INTEGER) AS year, CAST(month(month) AS INTEGER) AS month_of_year, machine, pen,
    sum(entered) AS entered, sum(passed) AS passed, sum(entered_high) AS entered_high,
    sum(passed_high) AS passed_high, sum(tray_squares) AS tray_squares, sum(entered * entered) AS batch_squares
FROM batches
GROUP BY species, step, month, machine, pen
UNION ALL
SELECT species, step, CAST(year(month) AS INTEGER), CAST(month(month) AS INTEGER), machine, '',
    NULL, NULL, NULL, NULL, NULL, sum(entered * entered)
FROM machine_batches
GROUP BY species, step, month, machine
