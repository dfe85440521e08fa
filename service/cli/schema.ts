/** `bywash schema`: the JSON Schema of the settings file, for editors that complete and check. */
import { Command } from "commander";

export function schemaCommand(): Command {
  return new Command("schema")
    .description("print the JSON Schema of the settings file")
    .addHelpText("after", "\nExample:\n  bywash schema > bywash.schema.json")
    .action(async () => {
      const { settingsJsonSchema } = await import("../../config/json-schema.ts");
      process.stdout.write(`${JSON.stringify(settingsJsonSchema(), null, 2)}\n`);
    });
}
