/** The way in to the screens of sums: they are shown when the handbook is open in the person's language. */
import { withHandbook } from "../../handbook/index.ts";
import { KeptSum } from "./kept.tsx";
import { CorrectSum, SumsScreen } from "./sums.tsx";

export const sumsScreen = () => withHandbook(SumsScreen);
export const keptSum = () => withHandbook(KeptSum);
export const correctSum = () => withHandbook(CorrectSum);
