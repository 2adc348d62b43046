package sizing

// Here is what was measured; docs/sizing.md says on what machine, and how.
func Here() Measured {
	return Measured{
		Runs: 100_000, RowsOfRun: 40, BytesKept: 700, BytesReadings: 5000, BytesOther: 30, BytesParquet: 500, BytesLog: 9000,
		ForwardRows: 10_000, CopyRows: 50_000,
	}
}
