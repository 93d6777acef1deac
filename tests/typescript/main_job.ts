// The main job as an integrator's TypeScript program does it, with types made from the OpenAPI document.
import createClient from "openapi-fetch";
import type { components, paths } from "./schema.js";

type Run = components["schemas"]["RunRequest"];

const [base, token] = process.argv.slice(2);
if (!base || !token) throw new Error("usage: node main_job.js BASE_URL TOKEN");

const api = createClient<paths>({ baseUrl: base, headers: { Authorization: `Bearer ${token}` } });
const key = () => ({ "Idempotency-Key": crypto.randomUUID() });

function present<T>(value: T | undefined, problem: unknown): T {
  if (value === undefined) throw new Error(JSON.stringify(problem));
  return value;
}

async function follow(id: string): Promise<void> {
  for (let tries = 0; tries < 600; tries++) {
    const { data, error } = await api.GET("/api/v1/calculations/{id}", { params: { path: { id } } });
    const { state, error: reason } = present(data, error);
    if (state === "done") return;
    if (state === "failed" || state === "superseded") throw new Error(`${state}: ${reason}`);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  throw new Error(`calculation ${id} did not end`);
}

const asked = await api.POST("/api/v1/jobs", {
  params: { header: key() },
  body: {
    external_ref: `TS-${crypto.randomUUID()}`,
    purpose: "routine",
    customer: { name: "Rowan Ashby" },
    property: { address: { line1: "9 Sluice Street" } },
  },
});
const job = present(asked.data, asked.error);
const lateral = present(job.property.laterals[0], "no lateral").id;

const run: Run = {
  job: job.id,
  units: "us",
  direction: "downstream",
  start_access: { kind: "clean_out", label: "front clean-out" },
  counter_start: 0,
  counter_end: 42.5,
  reached: "main",
  segments: [{ from: 0, to: 42.5, material: "vitrified_clay", diameter: 4 }],
  defects: [{ ref: "a", kind: "sag", at: 20, to: 24, percent: 40 }],
};
const id = crypto.randomUUID();
const put = await api.PUT("/api/v1/runs/{id}", { params: { path: { id } }, body: run });
present(put.data, put.error);
const submit = await api.POST("/api/v1/runs/{id}/submit", { params: { path: { id } } });
await follow(present(submit.data, submit.error).calculation.id);

const graded = await api.GET("/api/v1/runs/{id}/grading", { params: { path: { id } } });
const grading = present(graded.data, graded.error);
// Sag of 25 to 50 % of the height: class 3 of 5 (1 worst), grade 6 - 3 (Stein & Partner 2001, ch. 4.7.4.3.1).
if (grading.service.grade !== 3) throw new Error(`sag of 40 % graded ${grading.service.grade}`);

const scope = await api.POST("/api/v1/laterals/{id}/repair-scopes", {
  params: { path: { id: lateral }, header: key() },
  body: { policy: { fix_from_grade: 3 } },
});
const accepted = present(scope.data, scope.error);
await follow(accepted.calculation.id);
const read = await api.GET("/api/v1/repair-scopes/{id}", { params: { path: { id: accepted.id } } });
// With `fields` a read may leave members out, and a plan that is not possible has no price: the types say so.
const plans = (present(read.data, read.error).plans ?? []).map((plan) => `${plan.name} ${plan.total?.likely}`);

const wrong = await api.POST("/api/v1/jobs", {
  params: { header: key() },
  body: { external_ref: "x", purpose: "routine" },
});
if (wrong.error?.errors.length !== 2) throw new Error(`two faults expected: ${JSON.stringify(wrong.error)}`);
console.log(`grade ${grading.overall.grade}; ${plans.join("; ")}`);
