/** Every act of a person: each makes one operation. */
export { markHandled, putOff, type RuleScope, ruleFor, setRule } from "./alarms.ts";
export { correct, voidRecord } from "./correct.ts";
export {
  type DeviceSent,
  type Invitation,
  type InviteBody,
  invite,
  revokeDevice,
  sentByDevice,
} from "./crew.ts";
export { answerQuestion, dealWithRefused } from "./decide.ts";
export { createZone, setFields, setMyself } from "./fields.ts";
export { createJob, mirrorJob, type NewJob, type NewStep } from "./jobs.ts";
export {
  type AirBody,
  type CoatBody,
  endCoat,
  logCoat,
  logHours,
  logMix,
  logNote,
  logReading,
  type MixBody,
  markSeen,
  markStep,
  startCoat,
} from "./logs.ts";
export { addPhoto, letPhotoGo, type PhotoPlace, sendPhotoAgain } from "./photos.ts";
export { type Preparation, prepareStep } from "./prepare.ts";
export { createProduct, type ProductBody, saveProduct } from "./products.ts";
export { bringBack, drop, keepStranded, letStrandedGo, settle } from "./removal.ts";
export {
  addStep,
  assign,
  holdStep,
  linkSteps,
  moveStep,
  releaseStep,
  type StepBody,
  unassign,
} from "./steps.ts";
export { keepSum, type SumBody } from "./sums.ts";
