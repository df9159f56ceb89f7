"""All benches, one after the other: python -m tests.bench"""

from tests.bench import bench_matching, bench_netting, bench_writer

for bench in (bench_writer, bench_netting, bench_matching):
    print(f"--- {bench.__name__}")
    bench.main()
