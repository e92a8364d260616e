/** The way in to a job: shown when the handbook is open in the person's language. */
import { withHandbook } from "../../handbook/index.ts";
import { JobScreen } from "./job.tsx";

export const jobScreen = () => withHandbook(JobScreen);
