// Makes plots.parquet (snappy) from data-demo/plots.csv with DuckDB, which shares no code with hyparquet:
//   npm install --no-save @duckdb/node-api && node test/oracle/parquet/makeParquet.mjs data-demo/plots.csv test/oracle/parquet/plots.parquet
import { DuckDBInstance } from "@duckdb/node-api";

const [from, to] = process.argv.slice(2);
const database = await (await DuckDBInstance.create(":memory:")).connect();
await database.run(`COPY (SELECT * FROM read_csv('${from}')) TO '${to}' (FORMAT parquet, COMPRESSION snappy)`);
