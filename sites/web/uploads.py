"""Uploads: a request may carry no more than is ever kept. What is too large is read past, never stored."""

from __future__ import annotations

from django.core.files.uploadhandler import FileUploadHandler, SkipFile

MOST_BYTES = 15 * 2**20  # of one file, as it is sent
MOST_BYTES_TOGETHER = 64 * 2**20


class Bounded(FileUploadHandler):
    """Stands before the handlers that store. Sets ``request.too_large`` when it left something out."""

    def __init__(self, request=None):
        super().__init__(request)
        self.whole_too_large = False
        self.read = 0

    def handle_raw_input(self, input_data, META, content_length, boundary, encoding=None):
        self.whole_too_large = content_length > MOST_BYTES_TOGETHER

    def new_file(self, *args, **kwargs):
        super().new_file(*args, **kwargs)
        self.read = 0
        if self.whole_too_large:
            self._skip()

    def receive_data_chunk(self, raw_data, start):
        self.read += len(raw_data)
        if self.read > MOST_BYTES:
            self._skip()
        return raw_data

    def file_complete(self, file_size):
        return None

    def _skip(self):
        self.request.too_large = True
        raise SkipFile
