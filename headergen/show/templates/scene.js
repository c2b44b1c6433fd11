// @ts-check
// The view of a page: draws packed meshes with three.js, and is turned by finger, mouse or keys.
// Axes are the engine's: x forward, y left, z up; lengths in millimetres.
"use strict";

/**
 * A mesh as the page carries it; see show/meshes.py.
 * @typedef {{name: string, group: string, at: number[], span: number, vertices: number, faces: number, data: string}} Packed
 * A surface: tones from the lightest to the darkest place of a ball.
 * @typedef {{name: string, tones: string[], shine: number}} Surface
 * Where the camera is and what it looks at.
 * @typedef {{from: number[], to: number[]}} Camera
 * @typedef {{at: number[], words: string, kind: string}} Tag
 */

const FIELD = 26; // degrees of the shorter side of the view
const STEEPEST = 1.53; // radians above or below the horizon
const FLIGHT = 450; // milliseconds
const LEADER = 60; // pixels from a spot to its name
/** White that hardly shades, so that a colour on it stays what it is. @type {Surface} */
const CHALK = { name: "chalk", tones: ["#ffffff", "#fbfbfb", "#f0f0f0", "#dcdcdc", "#bdbdbd"], shine: 0 };

/**
 * @param {HTMLElement} place where the view goes; it fills it
 * @param {Packed[]} meshes
 * @param {Surface} surface of the header
 * @param {number[]} seenFrom direction from the header to the camera
 */
function makeView(place, meshes, surface, seenFrom) {
  const THREE = /** @type {any} */ (window).THREE;
  const renderer = new THREE.WebGLRenderer({ antialias: true, alpha: true, preserveDrawingBuffer: true });
  renderer.outputEncoding = THREE.sRGBEncoding;
  const canvas = renderer.domElement;
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", "The header in its place. Arrow keys turn it, plus and minus bring it nearer or farther.");
  place.append(canvas);
  const tagLayer = document.createElement("div");
  tagLayer.className = "tags";
  tagLayer.setAttribute("aria-hidden", "true");
  place.append(tagLayer);

  const scene = new THREE.Scene();
  const camera = new THREE.PerspectiveCamera(FIELD, 1, 1, 1e5);
  camera.up.set(0, 0, 1);
  const steel = new THREE.MeshMatcapMaterial({ matcap: ball(THREE, surface), side: THREE.DoubleSide });
  const around = new THREE.MeshBasicMaterial({
    color: 0x7d868c, transparent: true, opacity: 0.13, depthWrite: false, side: THREE.DoubleSide,
  });
  const dark = new THREE.MeshBasicMaterial({ color: 0x101214, side: THREE.DoubleSide });
  /** @type {any} */
  let toned = null;
  const packed = new Map(meshes.map((mesh) => [mesh.group + "/" + mesh.name, mesh]));
  /** Those that were shown at least once: what is packed is unpacked when it is first to be seen. @type {Map<string, any>} */
  const bodies = new Map();
  /** @type {Map<string, {values: () => ArrayLike<number>, colours: string[]}>} */
  const paints = new Map();

  /** @param {string} key @returns {any} */
  function bodyOf(key) {
    const mesh = packed.get(key);
    if (!mesh || bodies.has(key)) {
      return bodies.get(key);
    }
    const body = new THREE.Mesh(geometry(THREE, mesh), mesh.group === "chassis" ? around : mesh.group === "below" ? dark : steel);
    body.scale.setScalar(mesh.span);
    body.position.fromArray(mesh.at);
    body.renderOrder = mesh.group === "chassis" ? 1 : 0;
    bodies.set(key, body);
    scene.add(body);
    paint(key);
    return body;
  }

  /** @param {string} key of a body that is there */
  function paint(key) {
    const given = paints.get(key);
    if (given) {
      const values = given.values();
      const tones = given.colours.map((each) => new THREE.Color(each).convertSRGBToLinear().toArray());
      const all = new Float32Array(values.length * 3);
      Array.from(values, (value, k) => all.set(tones[value], 3 * k));
      const body = bodies.get(key);
      body.geometry.setAttribute("color", new THREE.BufferAttribute(all, 3));
      toned ??= new THREE.MeshMatcapMaterial({ matcap: ball(THREE, CHALK), side: THREE.DoubleSide, vertexColors: true });
      body.material = toned;
    }
  }

  const marks = new THREE.Group();
  scene.add(marks);
  const own = meshes.filter((each) => each.group === "header").map((each) => bodyOf("header/" + each.name));
  const home = homeOf(THREE, own, seenFrom);
  const target = home.target.clone();
  /** @type {Tag[]} */
  let tags = [];
  let distance = home.distance;
  let turn = home.turn;
  let rise = home.rise;
  let waiting = false;
  let flight = 0;

  function draw() {
    waiting = false;
    const level = Math.cos(rise) * distance;
    camera.position.set(
      target.x + level * Math.cos(turn), target.y + level * Math.sin(turn), target.z + Math.sin(rise) * distance,
    );
    camera.near = distance / 200;
    camera.far = distance + 20 * home.radius;
    camera.lookAt(target);
    camera.updateProjectionMatrix();
    renderer.render(scene, camera);
    placeTags();
  }

  function soon() {
    if (!waiting) {
      waiting = true;
      requestAnimationFrame(draw);
    }
  }

  function fit() {
    const { clientWidth: width, clientHeight: height } = place;
    const now = renderer.getSize(new THREE.Vector2());
    if (width && height && (width !== now.x || height !== now.y)) {
      renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2));
      renderer.setSize(width, height);
      camera.aspect = width / height;
      // of an upright window the width is what has to hold the header
      const half = Math.tan((FIELD / 360) * Math.PI) / Math.min(1, camera.aspect);
      camera.fov = (360 / Math.PI) * Math.atan(half);
      soon();
    }
  }

  /** Puts each tag at its place; what would cover an earlier one, or stands outside the view, is hidden. */
  function placeTags() {
    const point = new THREE.Vector3();
    const { clientWidth: width, clientHeight: height } = place;
    /** @type {{x: number, y: number, half: number[]}[]} */
    const taken = [];
    tags.forEach((tag, index) => {
      const element = /** @type {HTMLElement} */ (tagLayer.children[tags.length + index]);
      const half = [element.offsetWidth / 2, element.offsetHeight / 2];
      point.fromArray(tag.at).project(camera);
      const isInside = point.z < 1 && Math.abs(point.x) < 1 && Math.abs(point.y) < 1;
      const spot = [((point.x + 1) / 2) * width, ((1 - point.y) / 2) * height];
      const [right, down] = tag.kind === "dimension" ? [0, 0] : outward(spot, width, height);
      const x = Math.max(half[0], Math.min(width - half[0], spot[0] + right));
      const y = Math.max(half[1], Math.min(height - half[1], spot[1] + down));
      const isFree = taken.every((each) => Math.abs(each.x - x) > each.half[0] + half[0] || Math.abs(each.y - y) > each.half[1] + half[1]);
      const isSeen = tag.kind === "dimension" ? point.z < 1 : isInside && isFree;
      element.style.visibility = isSeen ? "visible" : "hidden";
      if (isSeen) {
        taken.push({ x, y, half });
        element.style.transform = `translate(-50%, -50%) translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
      }
      const line = /** @type {HTMLElement} */ (tagLayer.children[index]);
      line.style.visibility = isSeen && tag.kind !== "dimension" ? "visible" : "hidden";
      line.style.width = `${Math.hypot(x - spot[0], y - spot[1]).toFixed(1)}px`;
      line.style.transform = `translate(${spot[0].toFixed(1)}px, ${spot[1].toFixed(1)}px) rotate(${Math.atan2(y - spot[1], x - spot[0]).toFixed(3)}rad)`;
    });
  }

  /** Where a name stands beside its spot: away from the middle of the header, which it would cover. @param {number[]} spot pixels @param {number} width @param {number} height */
  function outward(spot, width, height) {
    const middle = home.target.clone().project(camera);
    const away = [spot[0] - ((middle.x + 1) / 2) * width, spot[1] - ((1 - middle.y) / 2) * height];
    const times = LEADER / Math.max(1, Math.hypot(away[0], away[1]));
    return [away[0] * times, away[1] * times];
  }

  /** @param {number} across radians @param {number} up radians */
  function turnBy(across, up) {
    turn -= across;
    rise = Math.max(-STEEPEST, Math.min(STEEPEST, rise + up));
    soon();
  }

  /** @param {number} times how much farther away */
  function zoomBy(times) {
    distance = Math.max(home.radius / 50, Math.min(home.radius * 20, distance * times));
    soon();
  }

  /** @param {number} right pixels @param {number} down pixels */
  function shiftBy(right, down) {
    const scale = (2 * distance * Math.tan((camera.fov / 360) * Math.PI)) / place.clientHeight;
    const axes = [new THREE.Vector3(), new THREE.Vector3(), new THREE.Vector3()];
    camera.matrixWorld.extractBasis(axes[0], axes[1], axes[2]);
    target.addScaledVector(axes[0], -right * scale).addScaledVector(axes[1], down * scale);
    soon();
  }

  listen(canvas, { turnBy, zoomBy, shiftBy });

  /**
   * Moves the camera, at once for those who asked their machine for less motion.
   * @param {number[]} point what to look at
   * @param {number} away millimetres
   * @param {number[]=} facing direction from there to the camera
   */
  function flyTo(point, away, facing) {
    const start = { target: target.clone(), distance, turn, rise };
    const end = new THREE.Vector3().fromArray(point);
    const [nextTurn, nextRise] = facing ? anglesOf(facing) : [turn, rise];
    const swing = Math.atan2(Math.sin(nextTurn - turn), Math.cos(nextTurn - turn));
    const isStill = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
    const begun = performance.now();
    const own = ++flight;
    /** @param {number} now */
    function step(now) {
      if (own !== flight) {
        return;
      }
      const share = isStill ? 1 : Math.min(1, Math.max(0, (now - begun) / FLIGHT));
      const eased = share * share * (3 - 2 * share);
      target.lerpVectors(start.target, end, eased);
      distance = start.distance + (away - start.distance) * eased;
      turn = start.turn + swing * eased;
      rise = start.rise + (nextRise - start.rise) * eased;
      draw();
      if (share < 1) {
        requestAnimationFrame(step);
      }
    }
    step(begun);
  }

  fit();
  draw();
  let hasAround = true; // the header is seen first; what is around it comes with the next frame
  requestAnimationFrame(() => setTimeout(() => {
    meshes.filter((each) => each.group === "chassis").forEach((each) => { bodyOf("chassis/" + each.name).visible = hasAround; });
    place.dataset.whole = "";
    soon();
  }));
  new ResizeObserver(fit).observe(place);
  const resized = new ResizeObserver(soon);

  return {
    /** @param {string} group @param {string} name @param {boolean} isShown */
    show(group, name, isShown) {
      hasAround = group === "chassis" ? isShown : hasAround;
      const body = isShown ? bodyOf(group + "/" + name) : bodies.get(group + "/" + name);
      if (body) {
        body.visible = isShown;
        soon();
      }
    },
    /**
     * Gives each vertex of a mesh a colour of its own, which its shading darkens.
     * @param {string} group @param {string} name @param {() => ArrayLike<number>} values which of `colours` @param {string[]} colours
     */
    colour(group, name, values, colours) {
      paints.set(group + "/" + name, { values, colours });
      if (bodies.has(group + "/" + name)) {
        paint(group + "/" + name);
        soon();
      }
    },
    /** @param {Surface} next */
    finish(next) {
      steel.matcap = ball(THREE, next);
      steel.needsUpdate = true;
      soon();
    },
    home() {
      const from = [Math.cos(home.rise) * Math.cos(home.turn), Math.cos(home.rise) * Math.sin(home.turn), Math.sin(home.rise)];
      flyTo(home.target.toArray(), home.distance, from);
    },
    flyTo,
    /**
     * Flies to where two skins are nearest, and shows the gap as a dimension.
     * @param {number[]} a @param {number[]} b @param {string} words
     */
    dimension(a, b, words) {
      marks.clear();
      const ends = [a, b].map((point) => new THREE.Vector3().fromArray(point));
      const middle = ends[0].clone().lerp(ends[1], 0.5);
      const gap = ends[0].distanceTo(ends[1]);
      const line = new THREE.Line(
        new THREE.BufferGeometry().setFromPoints(ends),
        new THREE.LineBasicMaterial({ color: 0xd0332b, depthTest: false, transparent: true }),
      );
      marks.add(line);
      for (const end of ends) {
        const spot = new THREE.Mesh(
          new THREE.SphereGeometry(Math.max(1.2, gap / 14), 16, 12),
          new THREE.MeshBasicMaterial({ color: 0xd0332b, depthTest: false, transparent: true }),
        );
        spot.position.copy(end);
        marks.add(spot);
      }
      marks.traverse((/** @type {any} */ each) => { each.renderOrder = 2; });
      setTags([...tags.filter((tag) => tag.kind !== "dimension"), { at: middle.toArray(), words, kind: "dimension" }]);
      flyTo(middle.toArray(), Math.max(8 * gap, 0.7 * home.radius), across(THREE, ends, camera.position.clone().sub(target)));
    },
    /** @param {Tag[]} next */
    tag(next) { setTags(next); },
    /** @returns {Camera} */
    camera() { return { from: camera.position.toArray(), to: target.toArray() }; },
    /** @param {Camera} given */
    stand(given) {
      target.fromArray(given.to);
      const off = given.from.map((value, k) => value - given.to[k]);
      distance = Math.hypot(...off);
      [turn, rise] = anglesOf(off);
      draw();
    },
  };

  /** @param {Tag[]} next */
  function setTags(next) {
    tags = next;
    const names = tags.map((tag) => {
      const element = document.createElement("span");
      element.className = tag.kind;
      element.textContent = tag.words;
      return element;
    });
    tagLayer.replaceChildren(...tags.map(() => document.createElement("i")), ...names); // lines end under the names
    resized.disconnect();
    names.forEach((each) => resized.observe(each));
    soon();
  }
}

/** @param {number[]} direction @returns {[number, number]} turn from x about z, and rise over the horizon */
function anglesOf(direction) {
  const [x, y, z] = direction;
  return [Math.atan2(y, x), Math.max(-STEEPEST, Math.min(STEEPEST, Math.atan2(z, Math.hypot(x, y))))];
}

/**
 * The way to look at a dimension from the side, as near as can be to the way one looks now.
 * @param {any} THREE @param {any[]} ends @param {any} facing @returns {number[]}
 */
function across(THREE, ends, facing) {
  const along = ends[1].clone().sub(ends[0]);
  if (along.lengthSq() < 1e-12) {
    return facing.toArray();
  }
  const off = facing.clone().projectOnPlane(along.normalize());
  return (off.lengthSq() > 1e-6 ? off : new THREE.Vector3(0, 0, 1)).toArray();
}

/** @param {any} THREE @param {Packed} mesh */
function geometry(THREE, mesh) {
  const letters = atob(mesh.data);
  const bytes = new Uint8Array(letters.length);
  for (let k = 0; k < letters.length; k += 1) {
    bytes[k] = letters.charCodeAt(k);
  }
  const padded = (/** @type {number} */ size) => Math.ceil(size / 4) * 4;
  const normalsAt = padded(mesh.vertices * 6);
  const facesAt = normalsAt + padded(mesh.vertices * 3);
  const Corner = mesh.vertices <= 65535 ? Uint16Array : Uint32Array;
  const shape = new THREE.BufferGeometry();
  const places = new Float32Array(new Uint16Array(bytes.buffer, 0, mesh.vertices * 3));
  for (let k = 0; k < places.length; k += 1) {
    places[k] /= 65535;
  }
  shape.setAttribute("position", new THREE.BufferAttribute(places, 3));
  shape.setAttribute("normal", new THREE.BufferAttribute(new Int8Array(bytes.buffer, normalsAt, mesh.vertices * 3), 3, true));
  shape.setIndex(new THREE.BufferAttribute(new Corner(bytes.buffer, facesAt, mesh.faces * 3), 1));
  return shape;
}

/**
 * A ball of a surface, by which each place is toned as it faces the eye.
 * @param {any} THREE @param {Surface} surface
 */
function ball(THREE, surface) {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 256;
  const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  const tones = pen.createLinearGradient(60, 0, 150, 256);
  surface.tones.forEach((tone, k) => tones.addColorStop(k / (surface.tones.length - 1), tone));
  pen.fillStyle = tones;
  pen.fillRect(0, 0, 256, 256);
  const light = pen.createRadialGradient(92, 64, 2, 92, 64, 84);
  light.addColorStop(0, `rgba(255, 255, 255, ${surface.shine})`);
  light.addColorStop(1, "rgba(255, 255, 255, 0)");
  pen.fillStyle = light;
  pen.fillRect(0, 0, 256, 256);
  const texture = new THREE.CanvasTexture(canvas);
  texture.encoding = THREE.sRGBEncoding;
  return texture;
}

/** @param {any} THREE @param {any[]} bodies of the header @param {number[]} seenFrom */
function homeOf(THREE, bodies, seenFrom) {
  const box = new THREE.Box3();
  for (const body of bodies) {
    body.updateMatrixWorld();
    body.geometry.computeBoundingBox();
    box.union(body.geometry.boundingBox.clone().applyMatrix4(body.matrixWorld));
  }
  const ballAround = box.getBoundingSphere(new THREE.Sphere());
  const [turn, rise] = anglesOf(seenFrom);
  return {
    target: ballAround.center, radius: ballAround.radius, turn, rise,
    distance: (0.92 * ballAround.radius) / Math.sin((FIELD / 360) * Math.PI),
  };
}

/**
 * One finger or the left button turns, two fingers or the right button shift, pinch and wheel zoom, keys do all of it.
 * @param {HTMLCanvasElement} canvas
 * @param {{turnBy(across: number, up: number): void, zoomBy(times: number): void, shiftBy(right: number, down: number): void}} view
 */
function listen(canvas, view) {
  /** @type {Map<number, {x: number, y: number}>} */
  const fingers = new Map();
  const spread = () => {
    const [one, other] = [...fingers.values()];
    return { size: Math.hypot(one.x - other.x, one.y - other.y), x: (one.x + other.x) / 2, y: (one.y + other.y) / 2 };
  };
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  });
  canvas.addEventListener("pointermove", (event) => {
    const last = fingers.get(event.pointerId);
    if (!last) {
      return;
    }
    const before = fingers.size === 2 ? spread() : null;
    const right = event.clientX - last.x;
    const down = event.clientY - last.y;
    last.x = event.clientX;
    last.y = event.clientY;
    if (before) {
      const after = spread();
      view.zoomBy(before.size / Math.max(after.size, 1));
      view.shiftBy(after.x - before.x, after.y - before.y);
    } else if (fingers.size === 1 && (event.buttons & 2 || event.shiftKey)) {
      view.shiftBy(right, down);
    } else if (fingers.size === 1) {
      view.turnBy(right * 0.008, down * 0.008);
    }
  });
  for (const end of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(end, (event) => fingers.delete(/** @type {PointerEvent} */ (event).pointerId));
  }
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    view.zoomBy(Math.exp(Math.max(-60, Math.min(60, event.deltaY)) * 0.004));
  }, { passive: false });
  /** @type {Record<string, () => void>} */
  const keys = {
    ArrowLeft: () => view.turnBy(-0.12, 0), ArrowRight: () => view.turnBy(0.12, 0),
    ArrowUp: () => view.turnBy(0, 0.12), ArrowDown: () => view.turnBy(0, -0.12),
    "+": () => view.zoomBy(0.85), "=": () => view.zoomBy(0.85), "-": () => view.zoomBy(1 / 0.85),
  };
  canvas.addEventListener("keydown", (event) => {
    const act = keys[event.key];
    if (act) {
      event.preventDefault();
      act();
    }
  });
}
