package archive

import (
	"embed"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/postgres"
	"masstone/recipes/archive/postgres/ownserver"
	"masstone/recipes/archive/sqlite"
)

// inDatabase makes the benches of tests in databases while the contract is held on
// PostgreSQL; it is nil else, and they are files.
var inDatabase func(t testing.TB, full bool) *Bench

// TestPostgres holds benches in a database of a server of its own to what benches in
// files are held to, by the same tests.
func TestPostgres(t *testing.T) {
	place := &onServer{Server: ownserver.Start(t), free: map[string][]string{}}
	place.empty = place.Database("")
	b, err := Create(ctx(t), place.Address("owner", place.empty), options())
	require.NoError(t, err)
	place.remember(t, b)
	place.full = place.Database(place.empty)
	b, err = Open(ctx(t), place.Address("owner", place.full), options())
	require.NoError(t, err)
	fill(t, b)
	fillNow(t, b)
	fillLater(t, b)
	fillLinks(t, b)
	place.remember(t, b)

	inDatabase = func(t testing.TB, filled bool) *Bench {
		t.Helper()
		like := place.empty
		if filled {
			like = place.full
		}
		b, err := Open(ctx(t), place.Address("owner", place.lent(t, like)), options())
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, b.Close()) })
		return b
	}
	t.Cleanup(func() { inDatabase = nil })
	for name, test := range map[string]func(*testing.T){
		"EverythingVerifies": TestEverythingVerifies, "BundleCarriesABench": TestBundleCarriesABench, "BundleOfAClientOrRecipe": TestBundleOfAClientOrRecipe,
		"ImportNumbersAnew": TestImportNumbersAnew, "ImportNeverMergesTwoThings": TestImportNeverMergesTwoThings, "ImportRefusesTwoHistories": TestImportRefusesTwoHistories,
		"BundleOfAnotherNumberOfRecords": TestBundleOfAnotherNumberOfRecords,
		"HeadOfApproval":                 TestHeadOfApproval, "PreviewStoresNothing": TestPreviewStoresNothing, "Resins": TestResins, "ImportPigments": TestImportPigments,
		"ImportChips": TestImportChips, "BadChips": TestBadChips, "CalibrationsAreVersioned": TestCalibrationsAreVersioned, "TargetNames": TestTargetNames,
		"FromRecipeToApproval": TestFromRecipeToApproval, "StockCount": TestStockCount, "Log": TestLog, "Find": TestFind,
		"NearestKnowsApprovals": TestNearestKnowsApprovals, "DocumentsAreCanonical": TestDocumentsAreCanonical, "RunsAndMoulds": TestRunsAndMoulds,
		"OneInUse":               TestOneInUse,
		"TogetherIsAllOrNothing": TestTogetherIsAllOrNothing, "TogetherStepFails": TestTogetherStepFails, "TogetherForgetsNamesOfAFailedStep": TestTogetherForgetsNamesOfAFailedStep,
	} {
		t.Run(name, test)
	}
	if faults > 1 { // the study takes those that open many benches, too
		for name, test := range map[string]func(*testing.T){
			"DamagedBundles": TestDamagedBundles, "ForgedBundles": TestForgedBundles, "NearestIsExact": TestNearestIsExact, "StockBalances": TestStockBalances,
			"Forget": TestForget, "Rules": TestRules, "ListsGoOnWithoutTheSenseless": TestListsGoOnWithoutTheSenseless,
			"NamesWithBlanksAtTheirEnds": TestNamesWithBlanksAtTheirEnds, "RunsInBundles": TestRunsInBundles,
		} {
			t.Run(name, test)
		}
	}
	inDatabase = nil
	t.Run("SameTables", place.sameTables)
	t.Run("WordsAsInAFile", place.wordsAsInAFile)
	t.Run("NothingIsChanged", place.nothingIsChanged)
	t.Run("Damage", place.damage)
	t.Run("SchemaNames", place.schemaNames)
	t.Run("MovedAndBack", place.movedAndBack)
	t.Run("ManyAdded", place.manyAdded)
	t.Run("Dumped", place.dumped)
	t.Run("Refusals", place.refusals)
	t.Run("ReadersOnlyRead", place.readersOnlyRead)
	t.Run("ManyWrite", place.manyWrite)
	t.Run("TurnTaken", place.turnTaken)
	t.Run("DoneAgain", place.doneAgain)
	t.Run("CutConnections", place.cutConnections)
	t.Run("AnswerLost", place.answerLost)
	t.Run("KilledServer", place.killedServer)
}

// Every step of SQLite's has its pair; PostgreSQL may have more, of its own.
func TestStepsComeInPairs(t *testing.T) {
	numbers := func(folder embed.FS) (all []int) {
		files, err := folder.ReadDir("migrations")
		require.NoError(t, err)
		for _, f := range files {
			n, err := strconv.Atoi(strings.SplitN(f.Name(), "_", 2)[0])
			require.NoError(t, err)
			all = append(all, n)
		}
		return all
	}
	for _, n := range numbers(sqlite.Migrations) {
		if n > 9 { // up to which PostgreSQL has one step
			assert.Contains(t, numbers(postgres.Migrations), n, "it needs its pair in postgres/migrations")
		}
	}
}
