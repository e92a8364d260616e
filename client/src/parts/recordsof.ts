/** The records that hang on something. */
import { type RecordRow, view } from "../store/view.ts";
import { item } from "./know.ts";
import { RECORD_KINDS } from "./records.tsx";

export const recordsOn = (on: (row: RecordRow) => boolean): RecordRow[] =>
  RECORD_KINDS.flatMap((kind) => view.value.records(kind)).filter(on);

/** Records of a job itself and of its steps, also of those that were deleted. */
export const recordsOfJob = (job_id: string): RecordRow[] =>
  recordsOn(
    ({ body }) =>
      body.job_id === job_id || item("step", body.step_id as string)?.fields.job_id === job_id,
  );

/** Records of jobs, steps and zones that are not on this phone, since they were deleted before it came aboard. */
export const recordsOfUnknown = (): RecordRow[] =>
  recordsOn(({ body }) => {
    const place = (["step", "job", "zone"] as const).find((kind) => body[`${kind}_id`]);
    return place !== undefined && !item(place, String(body[`${place}_id`]));
  });
