package readings

import "masstone/color"

// Options say what a file cannot say about itself. The zero value reads a
// comma-separated file with complete headers.
type Options struct {
	// File is the name used in messages.
	File string
	// KnownPigments are the codes whose columns hold loadings.
	KnownPigments []string

	// Condition is the illuminant and observer of plain L,a,b columns.
	// Without it such columns are refused.
	Condition color.Condition
	// Observer of Lab columns that name only their illuminant (L_D65);
	// 0 means 10 degrees.
	Observer color.Observer
	// Measurement is the geometry and specular mode as far as a person said
	// them; what the file says must not differ, and what nobody says stays
	// empty.
	Measurement color.Measurement
	// Angles is a geometry of single angles asked for, as [Angles] gives it, where
	// a file states it and package color has no word for it. Its readings are
	// taken as 45/0, which is the nearest that is known, and say so.
	Angles string
	// Mode is the measurement condition asked for, M0 to M3 of ISO 13655, where
	// a file has several.
	Mode string

	// Backing and ThicknessMM stand in for columns the file does not have.
	Backing     string
	ThicknessMM float64

	// Map gives a header its meaning: the name of a column of this package
	// (chip, backing, thickness_mm, L_D65, R400 ...), a pigment code, or
	// "ignore". It goes before everything the package would make of the header.
	Map map[string]string

	// Separator and Decimal settle the layout of a text file; 0 means detect.
	Separator, Decimal rune
	// HeaderRow is the line of the header row; 0 means to find it.
	HeaderRow int
	// Percent says whether reflectances are percent; nil means detect.
	Percent *bool
	// Sheet is the worksheet of an XLSX file; empty means the only one.
	Sheet string

	// Repeats takes rows of one name as several readings of one piece. Without
	// it a name that comes twice among chips or mixtures is an error.
	Repeats bool

	anyKind bool // the kind of file is yet to be told
}

// Row is one reading with what was read.
type Row struct {
	Line        int    // line of a text file, row of a worksheet
	Name        string // chip, mix or sample
	Backing     string // empty when not said
	Casting     string // of which this is a piece or a view, as over another backing; empty when not said
	ThicknessMM float64
	// Loadings in phr by pigment code; a pigment that is not in the piece has
	// no entry.
	Loadings      map[string]float64
	Labs          []color.Lab       // in the order of their columns
	Spectrum      *color.Spectrum   // on its own bands; nil when not read
	Measurement   color.Measurement // empty where neither the file nor the options say
	Circumstances Circumstances
	ChipGrams     float64 // mass of the cast chip, 0 when not said
	ScaleGrams    float64 // resolution of the scale it was weighed on, 0 when not said
	Note          string
}

// Table is a file that was read without error.
type Table struct {
	Pigments []string // codes in the order of their columns
	Rows     []Row
	Notes    []string    // what was understood, one line each, for confirmation
	Warnings []*RowError // doubtful, yet possible
}

// Pigment is one line of a pigment list. Everything but the code may be
// missing: empty text, or a nil number.
type Pigment struct {
	Line       int
	Code       string
	CIName     string // Colour Index generic name
	Name       string
	Supplier   string
	Lot        string
	DensityGML *float64 // g/ml of the paste
	MaxPHR     *float64 // most of it the resin takes
	PricePerKg *float64
	StockG     *float64
	HeatClass  string
	LightClass string
	// StrengthPercent is the grams of full paste in 100 g of a pre-dilution;
	// nil or 100 for the paste as sold.
	StrengthPercent *float64
	Note            string
}
