package readings_test

import (
	"bytes"
	"fmt"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"masstone/color"
	"masstone/color/readings"
)

const many = 10_000

// manyReadings invents readings with spectra and the Lab that go with them.
func manyReadings(t testing.TB) readings.Table {
	w, err := color.WeightsFor(color.D65Ten())
	require.NoError(t, err)
	table := readings.Table{}
	for i := range many {
		s := &color.Spectrum{FirstNM: 400, StepNM: 10, R: make([]float64, 31)}
		for j := range s.R {
			v := 0.4 + 0.3*math.Sin(float64(i)*0.7+float64(j)/(4+float64(i%7)))
			s.R[j] = math.Round(v*1e4) / 1e4
		}
		lab := w.Lab((*color.Reflectance)(s.R))
		for _, v := range []*float64{&lab.L, &lab.A, &lab.B} {
			*v = math.Round(*v*100) / 100
		}
		table.Rows = append(table.Rows, readings.Row{Name: fmt.Sprintf("part %d", i), Labs: []color.Lab{lab}, Spectrum: s})
	}
	return table
}

// manyFiles writes them in every format.
func manyFiles(t testing.TB) map[string][]byte {
	table := manyReadings(t)
	var csv, text, cxf bytes.Buffer
	require.NoError(t, readings.WriteCSV(&csv, table))
	_, err := readings.WriteText(&text, table, readings.ExchangeHeader{Originator: "masstone"})
	require.NoError(t, err)

	cxf.WriteString(xmlHead)
	for _, r := range table.Rows {
		fmt.Fprintf(&cxf, `<Object ObjectType="Standard" Name="%s"><ColorValues><ReflectanceSpectrum ColorSpecification="I">%s</ReflectanceSpectrum><ColorCIELab ColorSpecification="T"><L>%g</L><A>%g</A><B>%g</B></ColorCIELab></ColorValues></Object>`+"\n",
			r.Name, strings.Trim(fmt.Sprint(r.Spectrum.R), "[]"), r.Labs[0].L, r.Labs[0].A, r.Labs[0].B)
	}
	cxf.WriteString(strings.Replace(strings.Replace(xmlTail, "D50", "D65", 1), "2_Degree", "10_Degree", 1))

	book := excelize.NewFile()
	stream, err := book.NewStreamWriter("Sheet1")
	require.NoError(t, err)
	for i, line := range strings.Split(strings.TrimSpace(csv.String()), "\n") {
		var row []any
		for j, cell := range strings.Split(line, ",") {
			var v float64
			if i > 0 && j > 0 {
				_, err := fmt.Sscan(cell, &v)
				require.NoError(t, err)
				row = append(row, v)
			} else {
				row = append(row, cell)
			}
		}
		require.NoError(t, stream.SetRow(fmt.Sprintf("A%d", i+1), row))
	}
	require.NoError(t, stream.Flush())
	var xlsx bytes.Buffer
	require.NoError(t, book.Write(&xlsx))
	return map[string][]byte{"CSV": csv.Bytes(), "ISO 28178": text.Bytes(), "ISO 17972": cxf.Bytes(), "XLSX": xlsx.Bytes()}
}

func BenchmarkTenThousandReadings(b *testing.B) {
	for name, data := range manyFiles(b) {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(data)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := readings.Samples(bytes.NewReader(data), readings.Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// Ten thousand readings with spectra: under 150 MB in each format, the heap
// watched every millisecond. How long they take BenchmarkTenThousandReadings says.
func TestTenThousandReadings(t *testing.T) {
	if testing.Short() || raced {
		t.Skip("the race detector swells everything")
	}
	for name, data := range manyFiles(t) {
		megabytes := watchedRead(t, data)
		t.Logf("%s: %.1f MB file, heap at most %.0f MB", name, float64(len(data))/(1<<20), megabytes)
		require.Less(t, megabytes, 150.0, name)
	}
}

// watchedRead reads a file and gives the most heap in use, the file included.
func watchedRead(t *testing.T, data []byte) (megabytes float64) {
	t.Helper()
	runtime.GC()
	var before runtime.MemStats
	runtime.ReadMemStats(&before)
	stop, peak := make(chan bool), make(chan uint64)
	go func() {
		most := uint64(0)
		for {
			select {
			case <-stop:
				peak <- most
				return
			case <-time.After(time.Millisecond):
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				most = max(most, m.HeapInuse)
			}
		}
	}()
	table, err := readings.Samples(bytes.NewReader(data), readings.Options{})
	close(stop)
	megabytes = (float64(<-peak) - float64(before.HeapInuse) + float64(len(data))) / (1 << 20)
	require.NoError(t, err)
	require.Len(t, table.Rows, many)
	require.Empty(t, table.Warnings)
	return megabytes
}
