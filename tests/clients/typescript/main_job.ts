// The least job and a refusal, written by hand as a caller would; every published job is in all_jobs.ts.
import createClient from "openapi-fetch";
import type { components, paths } from "./schema.js";

declare const process: { env: Record<string, string | undefined> };

// answers come in other forms, too; this caller asks for JSON
const bench = createClient<paths, "application/json" | "application/problem+json">({ baseUrl: process.env["BENCH"] ?? "" });

const job: components["schemas"]["HeadAssemblyRequest"] = {
  units: { length: "mm", force: null },
  limits: null,
  springs: null,
  positions: [{ id: "1I", valve: "intake" }],
};
const { data, error } = await bench.POST("/v1/head-assembly", { body: job });
if (error) throw new Error(error.detail);
const length: string = data.units.length;
const first = data.positions[0];
if (first === undefined) throw new Error("a position is lost");
const height: number | null = first.bare_height;

const position = { id: "1I", valve: "intake" } as const;
const refused = await bench.POST("/v1/head-assembly", { body: { positions: [position, position] } });
if (!refused.error) throw new Error("two positions of one name are taken");
const pointers: string[] = refused.error.errors.map((fault) => fault.pointer);

console.log(JSON.stringify({ id: first.id, length, height, pointers }));
