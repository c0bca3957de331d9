"""The exported header: fields, writer, reader."""
