/** `bywash schema`: JSON Schemas, of the settings for editors, of our topics for other programs. */
import { Command, Option } from "commander";

export function schemaCommand(): Command {
  return new Command("schema")
    .description("print the JSON Schema of the settings, or of the MQTT topics")
    .addOption(
      new Option("--of <what>", "what to describe")
        .choices(["settings", "mqtt"])
        .default("settings"),
    )
    .addHelpText("after", "\nExample:\n  bywash schema > bywash.schema.json")
    .action(async ({ of }: { readonly of: string }) => {
      process.stdout.write(`${JSON.stringify(await schemaOf(of), null, 2)}\n`);
    });
}

async function schemaOf(what: string): Promise<object> {
  if (what === "mqtt") {
    const { topicsJsonSchema } = await import("../published-schemas.ts");
    return topicsJsonSchema();
  }
  const { settingsJsonSchema } = await import("../../config/json-schema.ts");
  return settingsJsonSchema();
}
