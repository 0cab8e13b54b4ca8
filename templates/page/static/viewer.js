// A mesh to be turned: triangles come ready from the server, light is one lamp, nothing moves unasked for long.

import { Camera, Geometry, Mesh, Program, Renderer, Transform } from "./vendor/ogl.module.min.js";

const vertex = `
attribute vec3 position;
attribute vec3 normal;
uniform mat4 modelViewMatrix;
uniform mat4 projectionMatrix;
uniform mat3 normalMatrix;
varying vec3 facing;
void main() {
  facing = normalize(normalMatrix * normal);
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
}`;
const fragment = `
precision highp float;
varying vec3 facing;
uniform vec3 metal;
void main() {
  vec3 way = normalize(facing);
  if (!gl_FrontFacing) way = -way;
  float lamp = max(dot(way, normalize(vec3(-0.5, 0.75, 0.75))), 0.0);
  float sky = 0.5 + 0.5 * way.y;
  float glint = pow(max(dot(way, normalize(vec3(-0.3, 0.45, 0.95))), 0.0), 24.0);
  gl_FragColor = vec4(metal * (0.22 + 0.30 * sky + 0.48 * lamp) + 0.16 * glint, 1.0);
}`;

const step = Math.PI / 24;

function normals(corners) {
  const found = new Float32Array(corners.length);
  for (let at = 0; at < corners.length; at += 9) {
    const ax = corners[at + 3] - corners[at], ay = corners[at + 4] - corners[at + 1], az = corners[at + 5] - corners[at + 2];
    const bx = corners[at + 6] - corners[at], by = corners[at + 7] - corners[at + 1], bz = corners[at + 8] - corners[at + 2];
    let x = ay * bz - az * by, y = az * bx - ax * bz, z = ax * by - ay * bx;
    const length = Math.hypot(x, y, z) || 1;
    x /= length; y /= length; z /= length;
    for (let corner = 0; corner < 9; corner += 3) found.set([x, y, z], at + corner);
  }
  return found;
}

// The colour of the first alloy, as its stamp has it; silver where there is none yet.
function metalColour() {
  const tint = document.querySelector(".strip .stamp")?.getAttribute("color");
  return tint ? [1, 3, 5].map((at) => Math.min(1, parseInt(tint.slice(at, at + 2), 16) / 255 / 0.92)) : [0.86, 0.83, 0.77];
}

export async function show(place) {
  const canvas = place.querySelector("canvas");
  const answer = await fetch(place.dataset.mesh);
  if (!answer.ok) throw new Error("no triangles");
  const corners = new Float32Array(await answer.arrayBuffer());
  if (!canvas.isConnected) return;
  const renderer = new Renderer({ canvas, alpha: true, antialias: true, width: 360, height: 270,
                                  dpr: Math.min(window.devicePixelRatio, 2), webgl: 1 });
  const { gl } = renderer;
  gl.clearColor(0, 0, 0, 0);
  canvas.style.removeProperty("width");
  canvas.style.removeProperty("height");
  const camera = new Camera(gl, { fov: 28, aspect: 4 / 3 });
  camera.position.set(0, 0, 5.6);
  const scene = new Transform();
  const geometry = new Geometry(gl, { position: { size: 3, data: corners }, normal: { size: 3, data: normals(corners) } });
  const program = new Program(gl, { vertex, fragment, cullFace: false, uniforms: { metal: { value: metalColour() } } });
  const mesh = new Mesh(gl, { geometry, program });
  mesh.setParent(scene);
  let rise = -1.05, turn = -0.6;

  const draw = () => {
    mesh.rotation.set(rise, 0, turn);
    mesh.rotation.reorder("XYZ");
    renderer.render({ scene, camera });
    place.dataset.turn = turn.toFixed(3);
  };
  const turnBy = (across, up) => {
    turn += across;
    rise = Math.max(-Math.PI, Math.min(0, rise + up));
    draw();
  };

  canvas.addEventListener("keydown", (event) => {
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
    if (!by) return;
    event.preventDefault();
    turnBy(...by);
  });
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    let [x, y] = [event.clientX, event.clientY];
    const move = (next) => {
      turnBy((next.clientX - x) * 0.01, (next.clientY - y) * 0.01);
      [x, y] = [next.clientX, next.clientY];
    };
    canvas.addEventListener("pointermove", move);
    canvas.addEventListener("pointerup", () => canvas.removeEventListener("pointermove", move), { once: true });
    canvas.addEventListener("pointercancel", () => canvas.removeEventListener("pointermove", move), { once: true });
  });
  draw();

  // One slow turn to show that it can be turned, unless motion is not wanted.
  if (matchMedia("(prefers-reduced-motion: reduce)").matches) return;
  const begin = performance.now();
  let touched = false;
  for (const kind of ["pointerdown", "keydown"]) canvas.addEventListener(kind, () => { touched = true; }, { once: true });
  const spin = (now) => {
    if (touched || now - begin > 4000 || !canvas.isConnected) return;
    turn += 0.012;
    draw();
    requestAnimationFrame(spin);
  };
  requestAnimationFrame(spin);
}
