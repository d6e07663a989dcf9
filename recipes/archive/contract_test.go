package archive

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/postgres"
	"masstone/recipes/archive/postgres/ownserver"
)

// inDatabase makes the benches of tests in databases while the contract is held on
// PostgreSQL; it is nil else, and they are files.
var inDatabase func(t testing.TB, full bool) *Bench

// TestPostgres holds benches in a database of a server of its own to what benches in
// files are held to, by the same tests.
func TestPostgres(t *testing.T) {
	server := ownserver.Start(t)
	at := func(database string) string { return server.Address("owner", database) }
	empty := server.Database("")
	b, err := Create(ctx(t), at(empty), options())
	require.NoError(t, err)
	require.NoError(t, b.Close())
	full := server.Database(empty)
	b, err = Open(ctx(t), at(full), options())
	require.NoError(t, err)
	fill(t, b)
	fillLater(t, b)
	require.NoError(t, b.Close())

	inDatabase = func(t testing.TB, filled bool) *Bench {
		t.Helper()
		like := empty
		if filled {
			like = full
		}
		b, err := Open(ctx(t), at(server.Database(like)), options())
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, b.Close()) })
		return b
	}
	t.Cleanup(func() { inDatabase = nil })
	for name, test := range map[string]func(*testing.T){
		"EverythingVerifies": TestEverythingVerifies, "BundleCarriesABench": TestBundleCarriesABench, "BundleOfAClientOrRecipe": TestBundleOfAClientOrRecipe,
		"ImportNumbersAnew": TestImportNumbersAnew, "ImportNeverMergesTwoThings": TestImportNeverMergesTwoThings, "ImportRefusesTwoHistories": TestImportRefusesTwoHistories,
		"DamagedBundles": TestDamagedBundles, "BundleOfAnotherNumberOfRecords": TestBundleOfAnotherNumberOfRecords, "ForgedBundles": TestForgedBundles,
		"HeadOfApproval": TestHeadOfApproval, "NearestIsExact": TestNearestIsExact, "PreviewStoresNothing": TestPreviewStoresNothing,
		"NothingIsChangedOrDeleted": TestNothingIsChangedOrDeleted, "Resins": TestResins, "ImportPigments": TestImportPigments, "ImportChips": TestImportChips,
		"BadChips": TestBadChips, "CalibrationsAreVersioned": TestCalibrationsAreVersioned, "TargetNames": TestTargetNames,
		"FromRecipeToApproval": TestFromRecipeToApproval, "StockBalances": TestStockBalances, "StockCount": TestStockCount, "Log": TestLog, "Find": TestFind,
		"NearestKnowsApprovals": TestNearestKnowsApprovals, "DocumentsAreCanonical": TestDocumentsAreCanonical, "ExportRest": TestExportRest, "Forget": TestForget,
		"Rules": TestRules, "ListsGoOnWithoutTheSenseless": TestListsGoOnWithoutTheSenseless, "NamesWithBlanksAtTheirEnds": TestNamesWithBlanksAtTheirEnds,
		"RunsAndMoulds": TestRunsAndMoulds, "RunsInBundles": TestRunsInBundles, "TogetherIsAllOrNothing": TestTogetherIsAllOrNothing,
		"TogetherStepFails": TestTogetherStepFails, "TogetherForgetsNamesOfAFailedStep": TestTogetherForgetsNamesOfAFailedStep,
	} {
		t.Run(name, test)
	}
}

// The steps of both engines make the same tables, so they come in pairs.
func TestEnginesHaveTheSameSchema(t *testing.T) {
	newest, err := postgres.Newest()
	require.NoError(t, err)
	assert.Equal(t, newestSchema(t), newest, "a step of SQLite's needs its pair in postgres/migrations")
}
