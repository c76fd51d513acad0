/** Sounds of a drawn bout that a finger or the mouse can choose. */

/** So far from a sound it may still be meant, px: half of the smallest key. */
const NEAR_PX = 40;

/**
 * Call with the number of the sound that is meant, wherever a drawing has sounds.
 * @param {HTMLElement} host in which drawings are shown
 * @param {function(string)} choose
 */
export function listenToSounds(host, choose) {
  host.addEventListener("click", (click) => {
    const away = (sound) => {
      const box = sound.getBoundingClientRect();
      return Math.hypot(box.x + box.width / 2 - click.clientX, box.y + box.height / 2 - click.clientY);
    };
    const sounds = [...host.querySelectorAll("[data-sound]")].sort((a, b) => away(a) - away(b));
    if (sounds.length && away(sounds[0]) <= NEAR_PX) choose(sounds[0].dataset.sound);
  });
}
