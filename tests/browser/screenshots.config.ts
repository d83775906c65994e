import config from "./playwright.config";

/* Pictures of every view: npm run screenshots. They go to build/screenshots. */
export default { ...config, testMatch: "screenshots.ts", timeout: 180_000, reporter: [["list"]] };
