package castplan

import (
	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"

	"masstone/calibrate"
)

// A chip speaks of the few runs of unknowns that belong to its pigments; the
// functions here work on those runs of a large matrix.

// timesRows returns w times the rows of m that blocks name, without copying
// them.
func timesRows(w, m *mat.Dense, blocks []calibrate.Block) *mat.Dense {
	rows, _ := w.Dims()
	_, columns := m.Dims()
	out := mat.NewDense(rows, columns, nil)
	at := 0
	for _, b := range blocks {
		if b.Len == 0 {
			continue
		}
		left := w.Slice(0, rows, at, at+b.Len).(*mat.Dense).RawMatrix()
		right := m.Slice(b.First, b.First+b.Len, 0, columns).(*mat.Dense).RawMatrix()
		blas64.Gemm(blas.NoTrans, blas.NoTrans, 1, left, right, 1, out.RawMatrix())
		at += b.Len
	}
	return out
}

// rowsOf copies the rows of m that blocks name.
func rowsOf(m *mat.Dense, blocks []calibrate.Block) *mat.Dense {
	_, columns := m.Dims()
	var data []float64
	n := 0
	for _, b := range blocks {
		n += b.Len
		data = append(data, m.RawMatrix().Data[b.First*columns:(b.First+b.Len)*columns]...)
	}
	return mat.NewDense(n, columns, data)
}

// blocksOf copies the rows and columns of m that blocks name.
func blocksOf(m *mat.Dense, blocks []calibrate.Block) *mat.Dense {
	n := 0
	for _, b := range blocks {
		n += b.Len
	}
	out := mat.NewDense(n, n, nil)
	i := 0
	for _, rows := range blocks {
		for r := range rows.Len {
			to, from := out.RawRowView(i), m.RawRowView(rows.First+r)
			at := 0
			for _, b := range blocks {
				at += copy(to[at:], from[b.First:b.First+b.Len])
			}
			i++
		}
	}
	return out
}

// columnsOf copies the columns of m that blocks name.
func columnsOf(m *mat.Dense, blocks []calibrate.Block) *mat.Dense {
	return mat.DenseCopyOf(rowsOf(m, blocks).T()) // m is symmetric
}
