-- The trays of closed batches as they leave the store for a set of many farms: one row each, every label in
-- one spelling, everything counted whole, so that sums are the same in any engine and any order.
-- Storage in tenths of a day, hens' age in days, rounded here once. NULL = not recorded.

CREATE OR REPLACE TEMP TABLE farm_rows AS
WITH machines AS (
    SELECT machine_key, min(label) AS label
    FROM (SELECT incubator_key AS machine_key, incubator AS label FROM trays_of
        UNION ALL SELECT hatcher_key, hatcher FROM trays_of) AS named
    GROUP BY machine_key
)
SELECT strftime(t.hatch_on, '%Y-%m') AS month, t.species, t.pen, m.label AS incubator, h.label AS hatcher,
    t.batch, t.tray, t.set_day AS set_on, t.hatch_on,
    CAST(round(t.storage_days * 10) AS INTEGER) AS storage_tenths,
    CAST(round(t.hen_weeks * 7) AS INTEGER) AS hen_days,
    CAST(t.eggs_set AS INTEGER) AS eggs_set, CAST(t.followed AS INTEGER) AS followed,
    CAST(t.hatched + t.culled AS INTEGER) AS chicks,
    CAST(t.infertile AS INTEGER) AS infertile, CAST(t.clear AS INTEGER) AS clear,
    CAST(t.early + t.unstaged AS INTEGER) AS early, CAST(t.mid AS INTEGER) AS mid,
    CAST(t.late AS INTEGER) AS late, CAST(t.shell AS INTEGER) AS shell,
    CAST(t.rotten AS INTEGER) AS rotten, CAST(t.unknown AS INTEGER) AS unknown,
    t.in_hatch, t.in_staged
FROM trays_of t
JOIN machines m ON m.machine_key = t.incubator_key
JOIN machines h ON h.machine_key = t.hatcher_key
WHERE t.closed AND t.hatch_on IS NOT NULL
ORDER BY t.hatch_on, t.batch_key, t.tray_key
