/** The products of the refit, and the way to a new one. `#/product` */
import { choiceOf, tell } from "../../handbook/index.ts";
import { canWork, productName } from "../../parts/know.ts";
import { PageHead, Slab } from "../../parts/page.tsx";
import { to } from "../../parts/router.ts";
import { view } from "../../store/view.ts";
import { language } from "../../words/index.ts";
import { BUNDLED, type ProfileJson } from "./bundled.ts";
import { TakeIn } from "./share.tsx";

export const nameIn = (profile: ProfileJson): string => {
  const names = (profile.name ?? {}) as Record<string, string>;
  return names[language()] ?? names.en ?? "";
};

/** `Version 3 · from the tin's sheet`. */
export const standing = (profile: ProfileJson): string =>
  [
    choiceOf("product_class", String(profile.product_class ?? "")),
    tell("product.version", { n: Number(profile.version ?? 1) }),
    tell(profile.typical === true ? "product.typical" : "product.own"),
  ].join(" · ");

export function ProductList() {
  return (
    <>
      <PageHead title={tell("product.title")} otherwise={["log"]} long />
      <Slab title={tell("product.on_board")} testid="products">
        <ul class="log-list">
          {view.value.items("product").map((row) => (
            <li key={row.id}>
              <a href={to("product", row.id)} data-testid="product-line" data-product={row.id}>
                <span>
                  <b>{productName(row.id)}</b>
                  <small>{standing((row.fields.profile ?? {}) as ProfileJson)}</small>
                </span>
              </a>
            </li>
          ))}
        </ul>
      </Slab>
      {canWork() && (
        <Slab title={tell("product.new")} testid="product-starts">
          <p class="slab-note">{tell("product.start_from")}</p>
          <ul class="log-list">
            {BUNDLED.map((one) => (
              <li key={String(one.id)}>
                <a href={to("product", "new", String(one.id))} data-testid={`start-${one.id}`}>
                  <span>
                    <b>{nameIn(one)}</b>
                  </span>
                </a>
              </li>
            ))}
          </ul>
          <div class="slab-note">
            <TakeIn />
          </div>
        </Slab>
      )}
    </>
  );
}
