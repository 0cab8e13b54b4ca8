"""Sound content, spoilt: pieces left out, doubled, exchanged for others, at places that Hypothesis chooses."""

from __future__ import annotations

from collections.abc import Mapping

from hypothesis import strategies as st

#: What trips readers: ends of numbers, of texts, of tables, of encodings.
TELLING = (
    b"", b"\x00", b"\xff", b"\xef\xbb\xbf", b"\n", b"\r", b'"', b"'", b'"""', b"[", b"]", b"{", b"}", b"<", b">", b"</",
    b"/>", b"&", b"&#0;", b"<!--", b"<![CDATA[", b"<!DOCTYPE a>", b"=", b",", b".", b"-", b"-0", b"1e999", b"1e-320",
    b"nan", b"inf", b"true", b"null", b"9" * 40, b"9" * 5000, b"-1", b"0x", b"1_0", b"\xc2\xa0", b"\xed\xa0\x80",
    b"2026-02-30", b"0000-01-01", b"[[", b"[" * 2000, b"a." * 60, b"\\u0000", b"\\", b"PK\x03\x04", b"\x1b[2J",
    b"4294967295",
)  # fmt: skip


@st.composite
def spoilt(draw: st.DrawFn, seeds: Mapping[str, bytes]) -> tuple[str, bytes]:
    """A name among the seeds, and its content with up to six pieces exchanged; now and then bytes without sense."""
    name = draw(st.sampled_from(sorted(seeds)))
    content = seeds[name]
    if draw(st.integers(0, 30)) == 0:
        return name, draw(st.binary(max_size=200))
    for _ in range(draw(st.sampled_from((1, 1, 1, 2, 3, 6)))):
        start = draw(st.integers(0, len(content)))
        end = start + draw(st.sampled_from((0, 0, 1, 2, 8, 40, 400)))
        other = draw(st.integers(0, len(content)))
        piece = draw(
            st.one_of(
                st.sampled_from(TELLING),
                st.binary(max_size=8),
                st.just(content[other : other + 60]),
                st.sampled_from((1, 3, 50)).map(lambda times, piece=content[start:end]: piece * times),
            )
        )
        content = content[:start] + piece + content[end:]
    return name, content
