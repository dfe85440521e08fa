// Planted: mqtt-in-broker-only.
import mqtt from "mqtt";
export const planted = mqtt;
