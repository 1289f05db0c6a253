// Reads a Parquet file and prints it for the test that compares it: one JSON
// object with the metadata, then one JSON array a row. 64-bit floats are printed
// as their bits, whole numbers and times as decimal text, what is missing as null.
import { asyncBufferFromFile, parquetMetadataAsync, parquetReadObjects } from 'hyparquet'
import { compressors } from 'hyparquet-compressors'

const file = await asyncBufferFromFile(process.argv[2])
const metadata = await parquetMetadataAsync(file)
const columns = metadata.schema.slice(1).map(e => ({ name: e.name, type: e.type, repetition: e.repetition_type, logical: e.logical_type?.type ?? '' }))
const notes = Object.fromEntries((metadata.key_value_metadata ?? []).map(kv => [kv.key, kv.value]))
console.log(JSON.stringify({ columns, notes, rows: Number(metadata.num_rows) }))

const bits = new DataView(new ArrayBuffer(8))
const show = v => {
  if (v === null || v === undefined) return null
  if (typeof v === 'bigint') return String(v)
  if (typeof v !== 'number') return v
  bits.setFloat64(0, v)
  return bits.getBigUint64(0).toString(16).padStart(16, '0')
}
const parsers = { timestampFromNanoseconds: ns => ns }
const rows = await parquetReadObjects({ file, metadata, compressors, parsers })
for (const row of rows) console.log(JSON.stringify(columns.map(c => show(row[c.name]))))
