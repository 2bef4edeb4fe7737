/** Version of the package, written into every result; a test holds it to package.json. */
export const version = "0.1.0";
