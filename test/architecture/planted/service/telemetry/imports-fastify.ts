// Planted: http-in-web-only.
import fastify from "fastify";
export const planted = fastify;
