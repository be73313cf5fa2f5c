// The triangle of spindle, pivot and stylus. Lengths in mm, angles in degrees, y down, spindle at the origin.
const DEGREES = 180 / Math.PI;

export function trackingErrorDeg(radius, { pivotToSpindle, effectiveLength, offsetAngle }) {
  const sine = (radius ** 2 + effectiveLength ** 2 - pivotToSpindle ** 2) / (2 * radius * effectiveLength);
  return Math.asin(sine) * DEGREES - offsetAngle;
}

export function pivotPosition({ pivotToSpindle, pivotBearing }) {
  return [pivotToSpindle * Math.cos(pivotBearing / DEGREES), pivotToSpindle * Math.sin(pivotBearing / DEGREES)];
}

export function stylusPosition(radius, { pivotToSpindle, effectiveLength, pivotBearing }) {
  const corner = Math.acos((radius ** 2 + pivotToSpindle ** 2 - effectiveLength ** 2) / (2 * radius * pivotToSpindle));
  const bearing = pivotBearing / DEGREES + corner;
  return [radius * Math.cos(bearing), radius * Math.sin(bearing)];
}

// The radius the stylus comes to when the arm is turned to point at a place on the plan.
export function radiusTowards([x, y], triangle) {
  const [pivotX, pivotY] = pivotPosition(triangle);
  const bearing = Math.atan2(y - pivotY, x - pivotX);
  return Math.hypot(
    pivotX + triangle.effectiveLength * Math.cos(bearing),
    pivotY + triangle.effectiveLength * Math.sin(bearing),
  );
}

// Linear interpolation in a curve that was computed on the bench.
export function readOff(radius, radii, values) {
  const after = Math.max(1, radii.findIndex((r) => r >= radius));
  const share = (radius - radii[after - 1]) / (radii[after] - radii[after - 1]);
  return values[after - 1] + share * (values[after] - values[after - 1]);
}
