// Planted: neither name exists where the core is compiled.
console.log(process.uptime());
export const planted = true;
