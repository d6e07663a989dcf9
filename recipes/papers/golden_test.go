package papers_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/papers"
)

var update = flag.Bool("update", false, "write the golden files anew")

func write(t testing.TB, p papers.Paper, f papers.Format, o papers.Options) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, papers.Write(&out, p, f, o))
	return out.Bytes()
}

// golden compares with testdata/golden, which records what the papers look
// like; that their figures are right the other tests say.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", "golden", name)
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got))
}

func TestGolden(t *testing.T) {
	for _, s := range samples(t) {
		t.Run(s.name, func(t *testing.T) {
			golden(t, s.name+".pdf.txt", []byte(pdfText(t, write(t, s.paper, papers.PDF, papers.Options{}))))
			golden(t, s.name+".letter.pdf.txt", []byte(pdfText(t, write(t, s.paper, papers.PDF, papers.Options{Size: papers.Letter}))))
			if strings.HasPrefix(s.name, "labels_") {
				return // the pages are what matters
			}
			golden(t, s.name+".txt", write(t, s.paper, papers.Text, papers.Options{}))
			golden(t, s.name+".csv", write(t, s.paper, papers.CSV, papers.Options{}))
			golden(t, s.name+".json", write(t, s.paper, papers.JSON, papers.Options{}))
			golden(t, s.name+".html", write(t, s.paper, papers.HTML, papers.Options{}))
		})
	}
	golden(t, "batch.letter.html", write(t, housing(t), papers.HTML, papers.Options{Size: papers.Letter}))
	golden(t, "batch.swatch.txt", write(t, housing(t), papers.Text, papers.Options{Swatch: true}))
	golden(t, "labels.swatch.txt", write(t, labels(), papers.Text, papers.Options{Swatch: true}))
	golden(t, "batch_crowded.narrow.txt", write(t, crowded(t), papers.Text, papers.Options{Width: 50}))
}

// TestSameBytes holds every format to its promise that equal papers are equal
// files, and that writing leaves a paper as it was.
func TestSameBytes(t *testing.T) {
	for _, s := range samples(t) {
		before := write(t, s.paper, papers.JSON, papers.Options{})
		for _, f := range []papers.Format{papers.Text, papers.CSV, papers.HTML, papers.PDF} {
			first := write(t, s.paper, f, papers.Options{})
			require.True(t, bytes.Equal(first, write(t, s.paper, f, papers.Options{})), "%s as %s", s.name, f)
		}
		require.Equal(t, string(before), string(write(t, s.paper, papers.JSON, papers.Options{})), s.name)
	}
}
