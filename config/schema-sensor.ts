/** Schema of the light sensor: how it lies. */
import { z } from "zod";
import { quantity } from "./fields.ts";

export const irradianceSensorSchema = z
  .strictObject({
    tilt: quantity({
      dimension: "angle",
      about: "From the horizontal; best as the largest array's",
      min: 0,
      max: 90,
    }),
    azimuth: quantity({
      dimension: "angle",
      about: "Clockwise from north; of a horizontal sensor any will do",
      min: 0,
      max: 360,
    }),
  })
  .optional()
  .meta({
    description: "How the sensor of the signal sky.irradiance lies",
    default: "horizontal",
    audience: "advanced",
  });
