// Planted: neither name exists where the sun's arithmetic is compiled.
console.log(process.uptime());
export const planted = true;
