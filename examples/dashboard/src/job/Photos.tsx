/**
 * The job's photos, by when they were taken. The bytes come through the API, a photo at
 * a time and only once it comes into view: a phone picture is a few megabytes.
 */
import { ConnectError, type Photo, PhotoType } from "@lamella/client";
import { useEffect, useRef, useState } from "preact/hooks";

import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { full, millis } from "../times.js";
import type { JobView } from "./load.js";

/** In the order of a job. */
const MOMENTS = [1, 2, 3, 0];

/** Everything that was photographed. */
export function Photos({ view: { photos, vehicle } }: { view: JobView }) {
  if (photos === undefined) return null;
  const names = new Map(vehicle?.panels.map((panel) => [panel.panelId, panel.displayName || panel.panelId]));
  return (
    <section aria-labelledby="photos">
      <h2 id="photos">{t.job.photos}</h2>
      {photos.length === 0 && <p>{t.job.noPhotos}</p>}
      {MOMENTS.map((moment) => {
        const taken = photos.filter((photo) => photo.moment === moment);
        return (
          taken.length > 0 && (
            <div key={moment} class="photo-group">
              <h3>{t.job.photoMoments[moment]}</h3>
              <ul class="photos">
                {taken.map((photo) => (
                  <PhotoView key={photo.name} photo={photo} panel={names.get(photo.panel) ?? photo.panel} />
                ))}
              </ul>
            </div>
          )
        );
      })}
    </section>
  );
}

type Picture = { readonly kind: "none" } | { readonly kind: "shown"; readonly src: string } | { readonly kind: "lost"; readonly why: string };

function PhotoView({ photo, panel }: { photo: Photo; panel: string }) {
  const frame = useRef<HTMLLIElement>(null);
  const [picture, setPicture] = useState<Picture>({ kind: "none" });
  const [large, setLarge] = useState(false);
  // No browser but one shows this kind; asking for its bytes would only take time.
  const showable = photo.type !== PhotoType.HEIC;
  useEffect(() => {
    const watched = frame.current;
    if (!showable || watched === null) return;
    const gone = new AbortController();
    const observer = new IntersectionObserver(
      (entries) => {
        if (!entries.some(({ isIntersecting }) => isIntersecting)) return;
        observer.disconnect();
        bytesOf(photo, gone.signal).then(
          async (bytes) => setPicture({ kind: "shown", src: await dataUrl(bytes) }),
          (error: unknown) => !gone.signal.aborted && setPicture({ kind: "lost", why: ConnectError.from(error).rawMessage }),
        );
      },
      { rootMargin: "300px" },
    );
    observer.observe(watched);
    return () => {
      observer.disconnect();
      gone.abort();
    };
  }, [photo.sha256]);
  const what = photo.caption || panel || t.job.theCar;
  return (
    <li ref={frame} class={large ? "photo large" : "photo"} data-photo={photo.name} data-picture={picture.kind}>
      <figure>
        <div class="photo-frame">
          {picture.kind === "shown" && <img src={picture.src} alt={t.job.photoAlt(t.job.photoMoments[photo.moment] ?? "", panel, photo.caption)} decoding="async" />}
          {picture.kind === "lost" && <p>{t.job.photoLost(picture.why)}</p>}
          {picture.kind === "none" && <p>{showable ? t.app.loading : t.job.photoUnshown}</p>}
        </div>
        <figcaption>
          <span class="photo-what">{[panel, photo.caption].filter(Boolean).join(": ") || t.job.theCar}</span>
          {photo.takenTime !== undefined && <time>{full(millis(photo.takenTime))}</time>}
        </figcaption>
      </figure>
      {picture.kind === "shown" && (
        <button type="button" aria-pressed={large} aria-label={t.job.photoLarge(what)} onClick={() => setLarge(!large)}>
          {large ? t.job.smaller : t.job.larger}
        </button>
      )}
      {!showable && (
        <button type="button" aria-label={t.job.photoDownload(what)} onClick={() => void download(photo)}>
          {t.job.download}
        </button>
      )}
    </li>
  );
}

async function bytesOf({ name, type }: Photo, signal?: AbortSignal): Promise<Blob> {
  const pieces: Uint8Array<ArrayBuffer>[] = [];
  for await (const { part } of lamella.photo.downloadPhoto({ name }, signal === undefined ? {} : { signal })) {
    if (part.case === "chunk") pieces.push(new Uint8Array(part.value));
  }
  return new Blob(pieces, { type: MEDIA[type] ?? "application/octet-stream" });
}

const MEDIA: Record<number, string> = { 1: "image/jpeg", 2: "image/png", 3: "image/webp", 4: "image/heic" };

/** The page's policy lets pictures in from data: URLs and from no blob. */
function dataUrl(bytes: Blob): Promise<string> {
  return new Promise((done, failed) => {
    const reader = new FileReader();
    reader.addEventListener("load", () => done(String(reader.result)));
    reader.addEventListener("error", () => failed(reader.error));
    reader.readAsDataURL(bytes);
  });
}

async function download(photo: Photo): Promise<void> {
  const url = URL.createObjectURL(await bytesOf(photo));
  const anchor = document.createElement("a");
  anchor.href = url;
  anchor.download = `${photo.name.replaceAll("/", "-")}.heic`;
  anchor.click();
  URL.revokeObjectURL(url);
}
