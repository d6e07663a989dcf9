package tagged_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"masstone/recipes/papers/tagged"
)

// drawn is a document of two pages, whose one paragraph goes over both.
func drawn(t testing.TB) (*tagged.Tree, []byte) {
	p := fpdf.New("P", "mm", "A4", "")
	p.SetLang("en")
	p.SetTitle("Two pages", true)
	tree := tagged.New(p)
	p.AddPage()
	p.SetFont("Helvetica", "", 12)
	paragraph := tree.Root().Add(tagged.P)
	tree.Into(paragraph)
	p.Text(20, 20, "begins here ")
	tree.Aside(tagged.Layout)
	p.Line(20, 30, 50, 30)
	tree.Into(paragraph)
	p.Text(20, 40, "and goes ")
	tree.Close()
	p.AddPage()
	tree.Into(paragraph)
	p.Text(20, 20, "on")
	tree.Instead(paragraph, " \u00e4")
	p.Text(20, 30, "?")
	tree.Close()
	var out bytes.Buffer
	require.NoError(t, p.Output(&out))
	return tree, out.Bytes()
}

// TestAppend: the file before stays as it was, byte for byte, and what follows
// is read by two programs and a library that know nothing of this one.
func TestAppend(t *testing.T) {
	tree, before := drawn(t)
	after, err := tree.Append(before)
	require.NoError(t, err)
	require.True(t, bytes.HasPrefix(after, before))
	again, err := tree.Append(before)
	require.NoError(t, err)
	require.Equal(t, after, again)

	r, err := pdf.NewReader(bytes.NewReader(after), int64(len(after)))
	require.NoError(t, err)
	root := r.Trailer().Key("Root")
	require.Equal(t, "1.7", root.Key("Version").Name())
	require.Equal(t, "Two pages", r.Trailer().Key("Info").Key("Title").Text())
	kids := root.Key("StructTreeRoot").Key("K").Key("K").Index(0).Key("K")
	require.Equal(t, 4, kids.Len(), "the pieces of the paragraph")
	require.EqualValues(t, 1, kids.Index(1).Int64())
	require.Equal(t, "MCR", kids.Index(2).Key("Type").Name(), "the second page is not the paragraph's own")
	require.EqualValues(t, 1, kids.Index(3).Key("MCID").Int64())

	file := filepath.Join(t.TempDir(), "two.pdf")
	require.NoError(t, os.WriteFile(file, after, 0o600))
	if tool, err := exec.LookPath("qpdf"); err == nil {
		out, err := exec.Command(tool, "--check", file).CombinedOutput()
		require.NoError(t, err, string(out))
	} else {
		t.Log("not checked with qpdf, which is not here")
	}
	tool, err := exec.LookPath("pdfinfo")
	if err != nil {
		t.Skip("pdfinfo is not here; install poppler-utils")
	}
	out, err := exec.Command(tool, file).Output()
	require.NoError(t, err)
	require.Regexp(t, `Tagged:\s+yes`, string(out))
	out, err = exec.Command(tool, "-struct", file).Output()
	require.NoError(t, err)
	require.Equal(t, []string{"Document", "P", "(block)"}, strings.Fields(string(out)))
}

// TestAppendRefuses: what is not a PDF with one plain cross-reference table is
// named, not spoilt.
func TestAppendRefuses(t *testing.T) {
	tree, good := drawn(t)
	for name, x := range map[string]struct{ from, to, says string }{
		"nothing":       {string(good), "", "no cross-reference table at the end"},
		"a stream":      {"xref\n0 ", "5 0 obj\n", "no cross-reference table at byte"},
		"no root":       {"/Root ", "/Boot ", "catalog: object 0 is not in the PDF"},
		"no pages":      {"/Pages 1 0 R", "/Pagas 1 0 R", "pages: object 0 is not in the PDF"},
		"no kids":       {"/Kids [", "/Kidz [", "pages: no /Kids"},
		"fewer pages":   {"/Kids [3 0 R 5 0 R ]", "/Kids [3 0 R       ]", "content is marked on page 2 of 1"},
		"no page":       {"/Kids [3 0 R 5 0 R ]", "/Kids [3 0 R 4 0 R ]", "page 2: object 4 is not a dictionary"},
		"broken offset": {"0000000000 65535", "00000x0000 65535", "cross-reference of object 0"},
	} {
		require.Contains(t, string(good), x.from, name)
		_, err := tree.Append([]byte(strings.ReplaceAll(string(good), x.from, x.to)))
		require.ErrorContains(t, err, "tagged: ", name)
		require.ErrorContains(t, err, x.says, name)
	}
}

// FuzzAppend: no file makes it panic.
func FuzzAppend(f *testing.F) {
	tree, good := drawn(f)
	f.Add(good)
	f.Add([]byte("xref\n0 1\n0000000000 65535 f \ntrailer\n<</Size 1/Root 1 0 R>>\nstartxref\n1\n%%EOF"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if out, err := tree.Append(data); err == nil {
			require.True(t, bytes.HasPrefix(out, data))
		}
	})
}
