// The curves of a traced arm.
import { drawCurves } from "../frame/charts.js";

const traced = document.getElementById("traced");
if (traced) drawCurves(document, traced.dataset.chartLibrary);
