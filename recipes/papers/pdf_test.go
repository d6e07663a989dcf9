package papers_test

import (
	"bytes"
	"fmt"
	"image"
	_ "image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"masstone/recipes/papers"
)

func openPDF(t testing.TB, data []byte) *pdf.Reader {
	t.Helper()
	r, err := pdf.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	return r
}

// run is a text on one baseline, in points from the lower left.
type run struct {
	x, y, size float64
	bold       bool
	text       string
	end        float64
}

// measured fills in where runs end.
func measured(t testing.TB, all []run) []run {
	wide, err := papers.Advances()
	require.NoError(t, err)
	for i := range all {
		r := &all[i]
		f := wide[0]
		if r.bold {
			f = wide[1]
		}
		r.end = r.x
		for _, letter := range r.text {
			w, has := f(letter)
			require.True(t, has, "%q in %q is not in the font", letter, r.text)
			r.end += w * r.size
		}
	}
	return all
}

// runs are the texts of a page in the order they were set. Their codes are
// UTF-16, as the page's fonts are encoded.
func runs(p pdf.Page) []run {
	var out []run
	var now run
	pdf.Interpret(p.V.Key("Contents"), func(stack *pdf.Stack, op string) {
		var args []pdf.Value
		for stack.Len() > 0 {
			args = append([]pdf.Value{stack.Pop()}, args...)
		}
		switch op {
		case "Tf":
			now.bold = strings.HasSuffix(p.Font(args[0].Name()).BaseFont(), "B")
			now.size = args[1].Float64()
		case "Td":
			now.x, now.y = args[0].Float64(), args[1].Float64()
		case "Tj":
			raw := args[0].RawString()
			codes := make([]uint16, len(raw)/2)
			for i := range codes {
				codes[i] = uint16(raw[2*i])<<8 | uint16(raw[2*i+1])
			}
			now.text = string(utf16.Decode(codes))
			now.text = strings.TrimRight(now.text, " ")
			out = append(out, now)
		}
	})
	return out
}

// pdfText is what a PDF says, one run a line with its place in points.
func pdfText(t testing.TB, data []byte) string {
	t.Helper()
	r := openPDF(t, data)
	var b strings.Builder
	for n := 1; n <= r.NumPage(); n++ {
		fmt.Fprintf(&b, "page %d\n", n)
		for _, x := range runs(r.Page(n)) {
			fmt.Fprintf(&b, "%5.0f %5.0f %4.1f  %s\n", x.x, x.y, x.size, x.text)
		}
	}
	return b.String()
}

// TestPDFInMargins: nothing leaves the margins of any page, and no two texts
// lie on each other.
func TestPDFInMargins(t *testing.T) {
	const mm = papers.MMPerPoint
	for _, size := range []papers.Size{papers.A4, papers.Letter} {
		for _, s := range samples(t) {
			name := fmt.Sprintf("%s %s", s.name, size)
			r := openPDF(t, write(t, s.paper, papers.PDF, papers.Options{Size: size}))
			require.Positive(t, r.NumPage(), name)
			left, top, bottom := papers.MarginX, papers.MarginTop(), papers.MarginBottom()-9 // the foot
			if strings.HasPrefix(s.name, "labels") {
				left, top, bottom = papers.LabelSide, 1, 1
			}
			for n := 1; n <= r.NumPage(); n++ {
				box := r.Page(n).V.Key("MediaBox")
				if box.IsNull() {
					box = r.Page(n).V.Key("Parent").Key("MediaBox")
				}
				width, height := box.Index(2).Float64(), box.Index(3).Float64()
				if size == papers.A4 {
					require.InDelta(t, 210/mm, width, 0.1)
					require.InDelta(t, 297/mm, height, 0.1)
				} else {
					require.InDelta(t, 612, width, 0.1)
					require.InDelta(t, 792, height, 0.1)
				}
				all := measured(t, runs(r.Page(n)))
				require.NotEmpty(t, all, "%s page %d is empty", name, n)
				for i, x := range all {
					require.GreaterOrEqual(t, x.x*mm, left-0.01, "%s page %d: %q", name, n, x.text)
					require.LessOrEqual(t, x.end*mm, width*mm-left+0.05, "%s page %d: %q", name, n, x.text)
					require.GreaterOrEqual(t, x.y*mm, bottom, "%s page %d: %q", name, n, x.text)
					require.LessOrEqual(t, (x.y+0.7*x.size)*mm, height*mm-top+0.5, "%s page %d: %q", name, n, x.text)
					for _, y := range all[:i] {
						apart := x.end <= y.x+0.1 || y.end <= x.x+0.1 || x.y-0.2*x.size > y.y+0.66*y.size || y.y-0.2*y.size > x.y+0.66*x.size
						if !apart {
							t.Errorf("%s page %d: %q lies on %q", name, n, x.text, y.text)
						}
					}
				}
			}
		}
	}
}

// TestPDFWidths: what a reader will take for the width of a letter is what the
// page was set with.
func TestPDFWidths(t *testing.T) {
	page := openPDF(t, write(t, housing(t), papers.PDF, papers.Options{})).Page(1)
	checked := 0
	wide, err := papers.Advances()
	require.NoError(t, err)
	for _, name := range page.Fonts() {
		font := page.Font(name)
		advance := wide[0]
		if strings.HasSuffix(font.BaseFont(), "B") {
			advance = wide[1]
		}
		w := font.V.Key("DescendantFonts").Index(0).Key("W")
		for i := 0; i < w.Len(); {
			first := w.Index(i).Int64()
			var widths []float64
			if list := w.Index(i + 1); list.Kind() == pdf.Array {
				for k := range list.Len() {
					widths = append(widths, list.Index(k).Float64())
				}
				i += 2
			} else {
				for range list.Int64() - first + 1 {
					widths = append(widths, w.Index(i+2).Float64())
				}
				i += 3
			}
			for k, got := range widths {
				if want, has := advance(rune(first) + rune(k)); has {
					require.InDelta(t, 1000*want, got, 1.01, "%q", rune(first)+rune(k))
					checked++
				}
			}
		}
	}
	require.Greater(t, checked, 200)
}

func TestPDFSaysWhatItIs(t *testing.T) {
	info := openPDF(t, write(t, housing(t), papers.PDF, papers.Options{})).Trailer().Key("Info")
	require.Equal(t, "Batch sheet B7", info.Key("Title").Text())
	require.Equal(t, "D:20260331143000", info.Key("CreationDate").Text()[:16])
}

// TestPDFPages: many pigments and many labels go on further pages, under their
// head, and every page is numbered.
func TestPDFPages(t *testing.T) {
	r := openPDF(t, write(t, crowded(t), papers.PDF, papers.Options{}))
	require.GreaterOrEqual(t, r.NumPage(), 3)
	for n := 1; n <= r.NumPage(); n++ {
		var all []string
		for _, x := range runs(r.Page(n)) {
			all = append(all, x.text)
		}
		require.Contains(t, all, fmt.Sprintf("%d of %d", n, r.NumPage()))
		if n > 1 {
			require.Equal(t, "Batch sheet B12345, continued", all[0])
		}
	}
	require.Equal(t, 2, openPDF(t, write(t, many(), papers.PDF, papers.Options{})).NumPage(), "40 labels, 24 a sheet")
	require.Equal(t, 2, openPDF(t, write(t, many(), papers.PDF, papers.Options{Size: papers.Letter})).NumPage(), "40 labels, 30 a sheet")
	skipping := many()
	skipping.Skip = 9
	require.Equal(t, 3, openPDF(t, write(t, skipping, papers.PDF, papers.Options{})).NumPage(), "49 places, 24 a sheet")
}

// rendered is a page of a PDF as poppler draws it.
func rendered(t *testing.T, data []byte, dpi int) image.Image {
	t.Helper()
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("pdftoppm is not here; install poppler-utils")
	}
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "paper.pdf"), data, 0o600))
	out, err := exec.Command(tool, "-r", fmt.Sprint(dpi), "-gray", "-png", "-singlefile", filepath.Join(dir, "paper.pdf"), filepath.Join(dir, "page")).CombinedOutput()
	require.NoError(t, err, string(out))
	file, err := os.Open(filepath.Join(dir, "page.png"))
	require.NoError(t, err)
	defer file.Close()
	img, _, err := image.Decode(file)
	require.NoError(t, err)
	return img
}

// TestCodeOnPaper reads the code off a printed page, in black and white.
func TestCodeOnPaper(t *testing.T) {
	require.Equal(t, "masstone:batch/B7", readCode(t, rendered(t, write(t, housing(t), papers.PDF, papers.Options{}), 100)))
	one := papers.Labels{Heading: head, Labels: []papers.Label{labels().Labels[15]}}
	require.Equal(t, "masstone:chip/CLR/BL0.2-WH1-resin-black", readCode(t, rendered(t, write(t, one, papers.PDF, papers.Options{Size: papers.Letter}), 150)))
}
