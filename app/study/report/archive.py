"""The hand-over archive: study, recordings, labels, settings, export and report in one ZIP that opens elsewhere with
everything found and the same figures. Its manifest holds the SHA-256 of every file and the figures to compare."""

from __future__ import annotations

import hashlib
import json
import tempfile
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path, PurePosixPath
from typing import Any

from app.study.pipeline import Cancelled, Progress
from app.study.report import dossier, handover, kept_results
from app.study.report.page import as_csv
from app.study.report.versions import versions
from app.study.results import score_json, worth
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.state import Item, Study
from app.study.storage.study_files import record_of, settings_plain, to_file
from data.files import write_atomically
from data.labels.table import write_events
from data.problem import Problem, from_os_error
from data.study import study_file
from detect.firmware.export import write_export
from detect.workers import Stopped

MANIFEST, STUDY = "MANIFEST.json", "study.json"
DAY = (1980, 1, 1, 0, 0, 0)
"""Of every file in the archive: the same study gives the same bytes."""

README = """This archive was handed over from Plumbfall. Unpack it and open study.json: everything is found.

study.json     the study, with labels, settings, seal and what searches found
recordings/    the files it was made from, as they were read{without}
labels.tsv     the labels as a table
settings.json  the settings in force
firmware/      header, detector, vectors: what goes to the target
report/        the report as HTML, JSON and CSVs; start with report.html
MANIFEST.json  SHA-256 of every file, and the figures: "plumbfall archive FILE.zip --check" compares them

An engineering aid: no medical device, and no certification of any kind.
"""


def write(session: Session, to: Path, progress: Progress, cancelled: Cancelled, recordings: bool = True) -> list[str]:
    """The names in the archive. Without `recordings` only their digests go along. Raises Problem, Stopped."""
    root = Path(tempfile.gettempdir()) / "plumbfall-archive"
    places = _places(session.study) if recordings else {}
    files = _files(session, root, places)
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        digests: dict[str, str] = {}
        names = sorted([*files, *places.values()])
        sources = {name: path for path, name in places.items()}
        for at, name in enumerate(names):
            if cancelled():
                raise Stopped
            content = files[name] if name in files else _read(sources[name])
            digests[name] = hashlib.sha256(content).hexdigest()
            _put(archive, name, content)
            progress((at + 1) / len(names))
        _put(archive, MANIFEST, _json(_manifest(session, digests, recordings)))
    write_atomically(to, out.getvalue())
    return [*names, MANIFEST]


def _put(archive: zipfile.ZipFile, name: str, content: bytes) -> None:
    info = zipfile.ZipInfo(name, DAY)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = 0o644 << 16
    archive.writestr(info, content)


def _places(study: Study) -> dict[str, str]:
    """Of each file of the study, those under the seal too, its name in the archive."""
    found: dict[str, str] = {}
    for item in sealed_set.whole(study).items:
        for path in (item.path, *item.more):
            if path not in found:
                name = f"recordings/{Path(path).name}"
                taken = {one.casefold() for one in found.values()}
                found[path] = name if name.casefold() not in taken else f"recordings/{len(found):04d}_{Path(path).name}"
    return found


def _files(session: Session, root: Path, places: Mapping[str, str]) -> dict[str, bytes]:
    """Everything but the recordings."""
    study, every = session.study, sealed_set.whole(session.study)
    moved = replace(every, items=tuple(_moved(item, root, places) for item in every.items))
    labels = {item.name: item.labels for item in study.items if item.labels and item.name in session.library}
    found = dossier.dossier(session)
    files = {
        "README.txt": README.format(without="" if places else ": left out; locate them").encode(),
        STUDY: study_file.to_json(to_file(moved), root).encode(),
        "labels.tsv": write_events(labels, session.library).encode(),
        "settings.json": _json(settings_plain(study.settings, study.front_end, record_of(study))),
        "report/report.html": dossier.page_of(session, found).encode(), "report/report.json": dossier.as_json(found),
    }
    files |= {f"report/report.tables/{table.key}.csv": as_csv(table) for table in dossier.tables(found)}
    export = write_export(study.settings, study.front_end, handover.provenance(session), study.device,
                          handover.params_json(session).encode())
    files |= {f"firmware/{name}": content for name, content in export.items()}
    if session.path is not None:
        files |= {f"study.results/{path.name}": _read(str(path))
                  for path in sorted(kept_results.folder_of(session.path).glob("*.json"))}
    return files


def _moved(item: Item, root: Path, places: Mapping[str, str]) -> Item:
    if not places:
        return item
    path, *more = (str(root / places[one]) for one in (item.path, *item.more))
    return replace(item, path=path, more=tuple(more))


def _read(path: str) -> bytes:
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise from_os_error(error, Path(path).name, "read") from error


def _manifest(session: Session, digests: Mapping[str, str], recordings: bool) -> dict[str, Any]:
    of_recordings, of_labels = session.digests()
    return {"files": dict(digests), "recordings_inside": recordings, "versions": dict(versions()),
            "recordings_sha256": of_recordings, "labels_sha256": of_labels, "figures": _figures(session)}


def _figures(session: Session) -> dict[str, Any]:
    """What must come out the same elsewhere."""
    return {"score": score_json.figures_plain(session), "tuned": worth.plain(session.worth())}


def _json(plain: object) -> bytes:
    return (json.dumps(plain, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


@dataclass(frozen=True)
class ArchiveCheck:
    """`faults`: a sentence for each thing that is not as it was handed over."""

    files: int
    faults: tuple[str, ...]


def check(archive: Path, folder: Path) -> ArchiveCheck:
    """Unpack into an empty folder, compare every file with the manifest, open the study there and score it.

    Raises Problem where it is not such an archive, or the folder is not empty.
    """
    manifest = _unpacked(archive, folder)
    faults = []
    for name, digest in sorted(manifest["files"].items()):
        path = folder / PurePosixPath(name)
        if not path.is_file():
            faults.append(f"{name} is missing.")
        elif hashlib.sha256(path.read_bytes()).hexdigest() != digest:
            faults.append(f"{name} was changed.")
    if not faults and manifest["recordings_inside"]:
        session = Session.opened(folder / STUDY)
        faults += session.refusals()
        if json.loads(json.dumps(_figures(session))) != manifest["figures"]:
            faults.append("The figures are not those that were handed over.")
        if list(session.digests()) != [manifest["recordings_sha256"], manifest["labels_sha256"]]:
            faults.append("Recordings or labels are not those that were handed over.")
    return ArchiveCheck(len(manifest["files"]), tuple(faults))


def _unpacked(archive: Path, folder: Path) -> dict[str, Any]:
    if folder.exists() and any(folder.iterdir()):
        raise Problem("archive", f'The folder "{folder}" is not empty.', "Name a folder that is empty or not there.")
    try:
        with zipfile.ZipFile(archive) as opened:
            manifest = json.loads(opened.read(MANIFEST))
            opened.extractall(folder)  # which keeps every name inside the folder
    except OSError as error:
        raise from_os_error(error, archive.name, "read") from error
    except (zipfile.BadZipFile, KeyError, ValueError) as error:
        raise Problem("archive", "This is not a hand-over archive, or it is damaged.", "Hand it over again.",
                      file=archive.name) from error
    if not isinstance(manifest, dict) or not {"files", "figures", "recordings_inside"} <= manifest.keys():
        raise Problem("archive", "Its manifest is not one of a hand-over archive.", "Hand it over again.",
                      file=archive.name)
    return manifest
