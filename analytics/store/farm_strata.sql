-- Counts per stratum of a set of many farms: one row for a farm, month, species, pen, setter, hatcher and class
-- of storage. This text, and no other, is what every engine runs: DuckDB as it stands, others translated.
-- Sums of whole numbers only, so that no engine, order or number of parts can change a count.
-- Classes of storage: -1 not recorded, 0 up to 3 days, 1 up to 7, 2 up to 14, 3 longer.

SELECT farm, month, species, pen, incubator, hatcher,
    CASE WHEN storage_tenths IS NULL THEN -1 WHEN storage_tenths <= 30 THEN 0
        WHEN storage_tenths <= 70 THEN 1 WHEN storage_tenths <= 140 THEN 2 ELSE 3 END AS storage_class,
    CAST(count(*) AS BIGINT) AS trays,
    CAST(sum(eggs_set) AS BIGINT) AS eggs_set,
    CAST(sum(CASE WHEN in_hatch THEN 1 ELSE 0 END) AS BIGINT) AS hatch_trays,
    CAST(sum(CASE WHEN in_hatch THEN eggs_set ELSE 0 END) AS BIGINT) AS hatch_eggs_set,
    CAST(sum(CASE WHEN in_hatch THEN followed ELSE 0 END) AS BIGINT) AS hatch_followed,
    CAST(sum(CASE WHEN in_hatch THEN chicks ELSE 0 END) AS BIGINT) AS hatch_chicks,
    CAST(sum(CASE WHEN in_hatch THEN rotten ELSE 0 END) AS BIGINT) AS hatch_rotten,
    CAST(sum(CASE WHEN in_staged THEN 1 ELSE 0 END) AS BIGINT) AS staged_trays,
    CAST(sum(CASE WHEN in_staged THEN eggs_set ELSE 0 END) AS BIGINT) AS staged_eggs_set,
    CAST(sum(CASE WHEN in_staged THEN followed ELSE 0 END) AS BIGINT) AS staged_followed,
    CAST(sum(CASE WHEN in_staged THEN chicks ELSE 0 END) AS BIGINT) AS staged_chicks,
    CAST(sum(CASE WHEN in_staged THEN rotten ELSE 0 END) AS BIGINT) AS staged_rotten,
    CAST(sum(CASE WHEN in_staged THEN infertile ELSE 0 END) AS BIGINT) AS infertile,
    CAST(sum(CASE WHEN in_staged THEN clear ELSE 0 END) AS BIGINT) AS clear,
    CAST(sum(CASE WHEN in_staged THEN early ELSE 0 END) AS BIGINT) AS early,
    CAST(sum(CASE WHEN in_staged THEN mid ELSE 0 END) AS BIGINT) AS mid,
    CAST(sum(CASE WHEN in_staged THEN late ELSE 0 END) AS BIGINT) AS late,
    CAST(sum(CASE WHEN in_staged THEN shell ELSE 0 END) AS BIGINT) AS shell,
    CAST(sum(CASE WHEN in_staged THEN unknown ELSE 0 END) AS BIGINT) AS unknown,
    CAST(sum(CASE WHEN storage_tenths IS NULL THEN 0 ELSE eggs_set END) AS BIGINT) AS storage_eggs,
    CAST(sum(CASE WHEN storage_tenths IS NULL THEN 0
        ELSE CAST(storage_tenths AS BIGINT) * eggs_set END) AS BIGINT) AS storage_egg_tenths,
    CAST(sum(CASE WHEN hen_days IS NULL THEN 0 ELSE eggs_set END) AS BIGINT) AS hen_eggs,
    CAST(sum(CASE WHEN hen_days IS NULL THEN 0
        ELSE CAST(hen_days AS BIGINT) * eggs_set END) AS BIGINT) AS hen_egg_days
FROM farm_trays
GROUP BY farm, month, species, pen, incubator, hatcher,
    CASE WHEN storage_tenths IS NULL THEN -1 WHEN storage_tenths <= 30 THEN 0
        WHEN storage_tenths <= 70 THEN 1 WHEN storage_tenths <= 140 THEN 2 ELSE 3 END
