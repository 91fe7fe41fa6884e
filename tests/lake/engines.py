"""Engines that read a publication, each as something that answers a statement with rows."""

import os
import sys


class DuckDb:
    """DuckDB in this process."""

    def __enter__(self):
        import duckdb
        self.errors = duckdb.Error
        self.connection = duckdb.connect()
        return self

    def __exit__(self, *_):
        self.connection.close()

    def views(self, states):
        """It reads the folders themselves."""

    def rows(self, sql):
        """The rows of a statement."""
        return self.connection.execute(sql).fetchall()


class Spark:
    """Spark with two worker processes beside the driver."""

    def __enter__(self):
        os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
        os.environ.setdefault("SPARK_LOCAL_IP", "127.0.0.1")
        from pyspark.errors import PySparkException
        from pyspark.sql import SparkSession
        self.errors = PySparkException
        build = SparkSession.builder.appName("lake")
        for key, value in {
            "spark.master": os.environ.get("SPARK_MASTER", "local-cluster[2,1,1024]"),
            "spark.ui.enabled": "false",
            "spark.sql.shuffle.partitions": "2",
            "spark.driver.bindAddress": "127.0.0.1",
            "spark.log.level": "ERROR",
            # Statements are short-lived here: compiling each takes longer than running it.
            "spark.sql.codegen.wholeStage": "false",
            "spark.sql.codegen.factoryMode": "NO_CODEGEN",
        }.items():
            build = build.config(key, value)
        self.session = build.getOrCreate()
        return self

    def __exit__(self, *_):
        self.session.stop()

    def views(self, states):
        """Makes a view of each table, whose names begin with a state's prefix."""
        for prefix, state in states.items():
            for table in sorted(os.listdir(state)):
                rows = self.session.read.parquet(os.path.join(state, table)).cache()
                rows.createOrReplaceTempView(prefix + table)

    def rows(self, sql):
        """The rows of a statement."""
        return [tuple(row) for row in self.session.sql(sql).collect()]


ENGINES = {"duckdb": DuckDb, "spark": Spark}
