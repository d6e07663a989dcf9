package papers_test

import (
	"encoding/json"
	"image"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/recipes/papers"
)

// readCode reads the QR code in a picture, by a reader not of this project.
func readCode(t require.TestingT, img image.Image) string {
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	require.NoError(t, err)
	result, err := qrcode.NewQRCodeReader().Decode(bitmap, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	require.NoError(t, err)
	return result.GetText()
}

func TestCodeReadsBack(t *testing.T) {
	for _, r := range []papers.Ref{
		papers.RefTo("batch", "B7"),
		papers.RefTo("chip", "CLR", "RD0.2-WH1-black"),
		papers.RefTo("target", "Möwe & Söhne", "Lamp / housing 100 %?#"),
		papers.RefTo("jar", strings.Repeat("x", 180)),
	} {
		img, err := papers.CodeImage(r, 4)
		require.NoError(t, err)
		text := readCode(t, img)
		require.Equal(t, r.String(), text)
		back, err := papers.ParseRef(text)
		require.NoError(t, err)
		require.Equal(t, r, back)
	}
}

func TestRefRoundTrip(t *testing.T) {
	names := rapid.SliceOfN(rapid.StringN(1, 12, -1).Filter(func(s string) bool { return strings.ToValidUTF8(s, "") == s }), 1, 4)
	rapid.Check(t, func(t *rapid.T) {
		r := papers.RefTo(rapid.StringMatching(`[a-z]{1,10}`).Draw(t, "kind"), names.Draw(t, "names")...)
		back, err := papers.ParseRef(" " + r.String() + "\n")
		require.NoError(t, err)
		require.Equal(t, r, back)
		for _, b := range []byte(r.String()) {
			require.True(t, b > ' ' && b < 0x7f, "%q is not plain ASCII", r.String())
		}
		var again papers.Ref
		text, err := json.Marshal(r)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(text, &again))
		require.Equal(t, r, again)
	})
}

func TestParseRefRefuses(t *testing.T) {
	for _, s := range []string{"", "B7", "batch/B7", "masstone:", "masstone:batch", "masstone:batch/", "masstone:/B7", "masstone:batch//B7", "masstone:batch/%zz", "http://x.invalid/masstone:batch/B7"} {
		_, err := papers.ParseRef(s)
		require.ErrorContains(t, err, "is such as masstone:batch/B7", "%q", s)
		require.NotContains(t, err.Error(), "\n")
	}
	require.True(t, papers.RefTo("batch").None())
	require.Empty(t, papers.RefTo("batch").String())
}
