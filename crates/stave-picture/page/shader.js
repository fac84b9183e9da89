// How places of the wall come to lie on the screen, and in which colour.

const VERTEX = `#version 300 es
layout(location = 0) in vec4 place;   // at, r, s, turn
layout(location = 1) in vec2 normal;  // away from the axis, along it
layout(location = 2) in vec3 burn;    // time, energy, section
uniform float facing, middle, half_height, aspect, tip, eye, unrolled, around, meridian, lying;
uniform vec2 roll, shift;
out vec2 on_wall;
out vec3 bright, burned;
vec3 tipped(vec3 p) {
  vec2 q = vec2(p.x * roll.x - p.y * roll.y, p.x * roll.y + p.y * roll.x);
  float c = cos(tip), s = sin(tip);
  return lying > 0.5
    ? vec3(q.x * c - p.z * s, q.y, q.x * s + p.z * c)
    : vec3(q.x, q.y * c - p.z * s, q.y * s + p.z * c);
}
void main() {
  // Unrolled, the mesh is drawn three times, a turn apart: what lies over the seam shows on both
  // edges.
  float turns = unrolled > 0.5 && burn.x > 0.0 ? float(gl_InstanceID - 1) : 0.0;
  float turn = place.w + 6.283185307179586 * turns;
  float angle = turn - facing;
  burned = burn;
  vec3 p = unrolled > 0.5 ? vec3(-turn * around, place.z - 0.5 * meridian, 0.0)
    : vec3(-place.y * sin(angle), place.x - middle, place.y * cos(angle));
  p = tipped(p);
  bright = unrolled > 0.5
    ? vec3(0.0, 0.0, 1.0)
    : tipped(vec3(-sin(angle) * normal.x, normal.y, cos(angle) * normal.x));
  on_wall = vec2(turn / 6.283185307179586 + 0.5, place.z / meridian);
  float w = (eye - p.z) / eye;
  vec2 seen = (p.xy + shift * w) / (half_height * vec2(aspect, 1.0));
  gl_Position = vec4(seen, -4.0 * p.z / eye * w, w);
}`;

const FRAGMENT = `#version 300 es
precision highp float;
uniform sampler2D ink, ramp;
uniform vec4 colour;
uniform float textured, lit, picking, meshed, now, picked, unrolled, metal;
in vec2 on_wall;
in vec3 bright, burned;
out vec4 shown;
vec2 two(float f) {
  float k = floor(clamp(f, 0.0, 1.0) * 65535.0 + 0.5);
  float h = floor(k / 256.0);
  return vec2(h, k - 256.0 * h) / 255.0;
}
void main() {
  if (picking > 0.5) {
    shown = vec4(two(on_wall.x), two(on_wall.y));
    return;
  }
  vec3 base = colour.rgb;
  // Between two triangles of the wall a pixel may be left open: the far side shows nothing there.
  bool away = unrolled < 0.5 && bright.z < 0.0;
  if (textured > 0.5 && !away) {
    // A burn that is thinner than a pixel is drawn as if wider, so that it does not fade away.
    vec4 burned = texture(ink, on_wall);
    float cover = min(1.0, 2.0 * burned.a);
    if (burned.a > 0.0) base = mix(base, burned.rgb / burned.a, cover);
  }
  if (meshed > 0.5) {
    bool past_end = unrolled > 0.5 && (on_wall.x < 0.0 || on_wall.x > 1.0);
    if (away || burned.x > now + 0.5 || past_end) discard;
    vec3 burn = texture(ramp, vec2((burned.y + 0.5) / 256.0, 0.5)).rgb;
    // What was not picked is faint.
    base = mix(colour.rgb, burn, picked < 0.0 || abs(burned.z - picked) < 0.5 ? 1.0 : 0.18);
  }
  float light = 1.0;
  if (lit > 0.5) {
    float facing_it = dot(normalize(bright), normalize(vec3(-0.35, 0.35, 0.87)));
    light = 0.74 + 0.26 * clamp(facing_it, 0.0, 1.0);
  }
  if (lit > 0.5 && metal > 0.5 && unrolled < 0.5) {
    // A plain model of bare or coated metal: a bright band where it mirrors a window, and darker
    // sides.
    vec3 n = normalize(bright);
    float window = exp(-14.0 * (n.x + 0.42) * (n.x + 0.42));
    light = 0.62 + 0.32 * n.z + 0.26 * window;
  }
  shown = vec4(min(vec3(1.0), base * light), colour.a);
}`;

/** Both, ready to draw with. */
export function program(gl) {
  const made = gl.createProgram();
  for (const [kind, source] of [
    [gl.VERTEX_SHADER, VERTEX],
    [gl.FRAGMENT_SHADER, FRAGMENT],
  ]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS))
      throw new Error(gl.getShaderInfoLog(shader));
    gl.attachShader(made, shader);
  }
  gl.linkProgram(made);
  if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made));
  return made;
}
