// Prints what exceljs reads in a workbook, as JSON: the formula cells of each sheet with their kept results.
// Usage: NODE_PATH=FOLDER_OF_MODULES node read_workbook.js WORKBOOK
const ExcelJS = require("exceljs");

async function main() {
  const book = new ExcelJS.Workbook();
  await book.xlsx.readFile(process.argv[2]);
  const sheets = {};
  book.eachSheet((sheet) => {
    const cells = (sheets[sheet.name] = {});
    sheet.eachRow((row) =>
      row.eachCell((cell) => {
        if (cell.type === ExcelJS.ValueType.Formula) cells[cell.address] = [cell.formula, cell.result];
      })
    );
  });
  console.log(JSON.stringify(sheets));
}

main().catch((error) => {
  console.error(error);
  process.exit(1);
});
