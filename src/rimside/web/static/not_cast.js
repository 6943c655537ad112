// The first casting of a production.
import { makeCastingJob } from "./casting_job.js";

makeCastingJob(document.querySelector("#casting-job"), () => location.reload());
