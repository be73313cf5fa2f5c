// The curves of a traced arm, drawn anew when the colours change.
import { drawCurves } from "../frame/charts.js";

const draw = () => drawCurves(document, document.getElementById("traced").dataset.chartLibrary);
if (document.getElementById("traced")) {
  draw();
  document.addEventListener("groovewright:theme", draw);
}
