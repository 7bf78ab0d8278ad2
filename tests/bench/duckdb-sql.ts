/** The baseline: residency, idle streaks and hot shutdowns as SQL with window functions, by the same semantics. */

import { DuckDBInstance } from '@duckdb/node-api';

export interface SqlAnswer {
  readonly runningS: number;
  readonly belowS: number;
  readonly inS: number;
  readonly aboveS: number;
  readonly idleStreaks: number;
  readonly hotShutdowns: number;
}

/** A sample holds until the next one, at most a minute. */
const held = (source: string) => `
  SELECT machineId AS m, epoch_ms(time) AS t, engineSpeedRpm AS rpm, engineLoadPct AS load, exhaustTempC AS temp,
    lead(epoch_ms(time)) OVER w AS t2, lead(engineSpeedRpm) OVER w AS rpm2
  FROM ${source} WINDOW w AS (PARTITION BY machineId ORDER BY time)`;

const residencySql = (source: string) => `
  WITH s AS (${held(source)}), d AS (SELECT *, least(t2 - t, 60000) AS dt FROM s)
  SELECT m, sum(dt) FILTER (rpm >= 400) / 1000 AS running,
    sum(dt) FILTER (rpm >= 400 AND temp < 350) / 1000 AS below,
    sum(dt) FILTER (rpm >= 400 AND temp BETWEEN 350 AND 450) / 1000 AS inside,
    sum(dt) FILTER (rpm >= 400 AND temp > 450) / 1000 AS above
  FROM d GROUP BY m`;

/** Islands of one kind; idle islands with less than 30 s of other running between them are one. */
const idleSql = (source: string) => `
  WITH s AS (${held(source)}),
  k AS (SELECT m, t, least(coalesce(t2, t) - t, 60000) AS dt,
      CASE WHEN rpm < 400 THEN 0 WHEN rpm <= 1100 AND load < 25 THEN 2 ELSE 1 END AS kind FROM s),
  c AS (SELECT *, CASE WHEN kind = lag(kind) OVER (PARTITION BY m ORDER BY t) THEN 0 ELSE 1 END AS turn FROM k),
  g AS (SELECT *, sum(turn) OVER (PARTITION BY m ORDER BY t ROWS UNBOUNDED PRECEDING) AS island FROM c),
  i AS (SELECT m, island, any_value(kind) AS kind, min(t) AS t1, sum(dt) AS dt FROM g GROUP BY m, island),
  b AS (SELECT *, CASE WHEN kind = 0 OR (kind = 1 AND dt >= 30000) THEN 1 ELSE 0 END AS ends FROM i),
  j AS (SELECT *, sum(ends) OVER (PARTITION BY m ORDER BY t1 ROWS UNBOUNDED PRECEDING) AS streak FROM b),
  f AS (SELECT m, streak, t1, dt, kind,
      max(CASE WHEN kind = 2 THEN t1 END) OVER (PARTITION BY m, streak) AS lastIdle,
      min(CASE WHEN kind = 2 THEN t1 END) OVER (PARTITION BY m, streak) AS firstIdle FROM j WHERE ends = 0)
  SELECT m, streak, sum(dt) FILTER (t1 >= firstIdle AND t1 <= lastIdle) / 1000 AS seconds
  FROM f GROUP BY m, streak HAVING seconds >= 3600`;

const hotSql = (source: string) => `
  WITH s AS (${held(source)}),
  l AS (SELECT m, t2, rpm, rpm2,
      max(CASE WHEN rpm >= 400 AND load >= 25 THEN t END) OVER p AS lastLoad,
      sum(CASE WHEN rpm >= 400 AND rpm <= 1100 AND load < 25 THEN least(coalesce(t2, t) - t, 60000) ELSE 0 END) OVER p AS idled,
      sum(CASE WHEN rpm >= 400 AND load >= 25 THEN 1 ELSE 0 END) OVER p AS loads
    FROM s WINDOW p AS (PARTITION BY m ORDER BY t ROWS UNBOUNDED PRECEDING)),
  q AS (SELECT m, t2, rpm, rpm2, lastLoad, idled - min(idled) OVER (PARTITION BY m, loads) AS cooldown FROM l)
  SELECT m, t2, cooldown / 1000 AS cooldown FROM q
  WHERE rpm >= 400 AND rpm2 < 400 AND lastLoad IS NOT NULL AND cooldown < 300000`;

/** Runs the three queries on a relation, as SQL names it, on so many threads. Errors: DuckDB's. */
export async function sqlAnswer(source: string, threads: number): Promise<SqlAnswer> {
  const instance = await DuckDBInstance.create(':memory:', { threads: String(threads) });
  const connection = await instance.connect();
  const residency = (await connection.runAndReadAll(residencySql(source))).getRowObjects();
  const idle = (await connection.runAndReadAll(idleSql(source))).getRowObjects();
  const hot = (await connection.runAndReadAll(hotSql(source))).getRowObjects();
  connection.closeSync();
  instance.closeSync();
  const total = (name: string) => residency.reduce((sum, row) => sum + Number(row[name] ?? 0), 0);
  return {
    runningS: total('running'),
    belowS: total('below'),
    inS: total('inside'),
    aboveS: total('above'),
    idleStreaks: idle.length,
    hotShutdowns: hot.length,
  };
}

/** Of several portions of a fleet together. */
export function sumOfAnswers(answers: readonly SqlAnswer[]): SqlAnswer {
  const total = (name: keyof SqlAnswer) => answers.reduce((sum, answer) => sum + answer[name], 0);
  return {
    runningS: total('runningS'),
    belowS: total('belowS'),
    inS: total('inS'),
    aboveS: total('aboveS'),
    idleStreaks: total('idleStreaks'),
    hotShutdowns: total('hotShutdowns'),
  };
}
