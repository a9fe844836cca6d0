"""What a photo costs: the memory of a process that looks at one, and the time of as many as one answer may bring."""

import os
import subprocess
import sys
import time

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile

from sites.actions.proofs import take_all
from tests import large_photos

MOST_MB = 300
# The peak of the process itself: ru_maxrss would also count what the process that started it had in memory.
MEASURE = """
import pathlib, sys
from sites.actions.proofs import take
taken = take(pathlib.Path(sys.argv[1]).read_bytes(), "photo")
status = pathlib.Path("/proc/self/status").read_text()
peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
print(int(peak.split()[1]) // 1024, taken.width, taken.height)
"""
SET_UP = "import django; django.setup()\n"


@pytest.mark.skipif(not os.path.exists("/proc/self/status"), reason="the peak is read from /proc")
@pytest.mark.parametrize("kind", large_photos.KINDS)
def test_a_photo_at_the_limit_costs_under_300_mb(kind, tmp_path):
    content = large_photos.KINDS[kind]()
    file = tmp_path / "photo"
    file.write_bytes(content)
    around = {**os.environ, "DJANGO_SETTINGS_MODULE": "planner.settings", "DESKWRIGHT_DEMO": "yes"}
    done = subprocess.run(
        [sys.executable, "-c", SET_UP + MEASURE, str(file)],
        env=around,
        cwd=settings.HOME,
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    peak, width, height = map(int, done.stdout.split())
    print(f"{kind:30} {len(content) / 2**20:5.1f} MB sent, {peak:3d} MB peak")
    assert peak < MOST_MB
    assert max(width, height) > 1900


LOOK = """
import pathlib, resource, sys, time
from sites.actions.proofs import Unfit, take
content = pathlib.Path(sys.argv[1]).read_bytes()
began = time.process_time()
try:
    take(content, "photo")
except Unfit as error:
    print(error, file=sys.stderr)
took = time.process_time() - began
status = pathlib.Path("/proc/self/status").read_text()
peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
print(took, int(peak.split()[1]) // 1024)
"""


@pytest.mark.skipif(not os.path.exists("/proc/self/status"), reason="the peak is read from /proc")
@pytest.mark.parametrize("kind", large_photos.BUSY)
def test_a_file_made_to_keep_its_reader_busy_does_not(kind, tmp_path):
    """2,000 empty scans in 129 kB took 20 s; a directory of 65 kB in itself again and again more than 300 MB."""
    file = tmp_path / "photo"
    file.write_bytes(large_photos.BUSY[kind]())
    around = {**os.environ, "DJANGO_SETTINGS_MODULE": "planner.settings", "DESKWRIGHT_DEMO": "yes"}
    done = subprocess.run(
        [sys.executable, "-c", SET_UP + LOOK, str(file)],
        env=around,
        cwd=settings.HOME,
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    took, peak = map(float, done.stdout.split())
    print(
        f"{kind:40} {file.stat().st_size / 2**20:5.1f} MB sent, {took:4.1f} s, {peak:.0f} MB peak"
    )
    assert took < 5 and peak < MOST_MB


def test_as_many_as_the_budget_allows_take_a_bounded_time():
    """100 million pixels of the kind that takes longest; the processor is counted, not who else uses it."""
    sent = large_photos.png(interlaced=True)
    began = time.process_time()
    assert len(take_all([SimpleUploadedFile("photo.png", sent) for _ in range(4)])) == 4
    took = time.process_time() - began
    print(f"four interlaced PNGs of 25 million pixels: {took:.1f} s")
    assert took < 20
