/** The way in to the products: shown when the handbook is open in the person's language. */
import { withHandbook } from "../../handbook/index.ts";
import { ProductScreen } from "./product.tsx";

export const productScreen = () => withHandbook(ProductScreen);
