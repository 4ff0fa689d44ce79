// node read.mjs FILE: what the library makes of a FIT file, sums checked, as JSON.
import { readFile } from 'node:fs/promises'
import FitParser from 'fit-file-parser'

const parser = new FitParser({ mode: 'list', force: false, speedUnit: 'm/s', lengthUnit: 'm' })
const { file_ids, device_infos, events, records, laps, sessions, activity } =
    await parser.parseAsync(await readFile(process.argv[2]))
console.log(JSON.stringify({ file_ids, device_infos, events, records, laps, sessions, activity }))
